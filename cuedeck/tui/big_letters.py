"""Large letters made of blocks, to be read from across a room. Each is five dots high, most are four wide."""

from __future__ import annotations

from cuedeck.tui.words import clipped

DOTS_HIGH = 5
_ROWS = {
    "A": ".##. #..# #### #..# #..#",
    "B": "###. #..# ###. #..# ###.",
    "C": ".### #... #... #... .###",
    "D": "###. #..# #..# #..# ###.",
    "E": "#### #... ###. #... ####",
    "F": "#### #... ###. #... #...",
    "G": ".### #... #.## #..# .###",
    "H": "#..# #..# #### #..# #..#",
    "I": "### .#. .#. .#. ###",
    "J": "..## ...# ...# #..# .##.",
    "K": "#..# #.#. ##.. #.#. #..#",
    "L": "#... #... #... #... ####",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "O": ".##. #..# #..# #..# .##.",
    "P": "###. #..# ###. #... #...",
    "Q": ".##. #..# #..# #.## .###",
    "R": "###. #..# ###. #.#. #..#",
    "S": ".### #... .##. ...# ###.",
    "T": "##### ..#.. ..#.. ..#.. ..#..",
    "U": "#..# #..# #..# #..# .##.",
    "V": "#...# #...# #...# .#.#. ..#..",
    "W": "#...# #...# #.#.# ##.## #...#",
    "X": "#..# #..# .##. #..# #..#",
    "Y": "#...# .#.#. ..#.. ..#.. ..#..",
    "Z": "#### ...# .##. #... ####",
    "0": "#### #..# #..# #..# ####",
    "1": ".#. ##. .#. .#. ###",
    "2": "###. ...# .##. #... ####",
    "3": "###. ...# .##. ...# ###.",
    "4": "#..# #..# #### ...# ...#",
    "5": "#### #... ###. ...# ###.",
    "6": ".##. #... ###. #..# .##.",
    "7": "#### ...# ..#. .#.. .#..",
    "8": ".##. #..# .##. #..# .##.",
    "9": ".##. #..# .### ...# .##.",
    "-": "... ... ### ... ...",
    ".": ". . . . #",
    ":": ". # . # .",
    " ": ".. .. .. .. ..",
}


def big_text(text: str, width: int, *, rows: int) -> list[str]:
    """Return a text in letters of five rows or of three, all rows equally wide; as it is where it cannot be large.

    That is where it has no room so, or where it has a letter that is not among ours.
    """
    capitals = text.upper()
    if any(letter not in _ROWS for letter in capitals):
        return [clipped(text, width)]
    dots = _dots(capitals)
    if rows >= DOTS_HIGH and 2 * len(dots[0]) <= width:
        return ["".join("██" if dot else "  " for dot in row) for row in dots]
    if rows >= DOTS_HIGH and len(dots[0]) <= width:
        return ["".join("█" if dot else " " for dot in row) for row in dots]
    if rows >= 3 and len(dots[0]) <= width:
        return _halved(dots)
    return [clipped(text, width)]


def _dots(text: str) -> list[list[bool]]:
    lines: list[list[bool]] = [[] for _ in range(DOTS_HIGH)]
    for number, letter in enumerate(text):
        for line, dots in zip(lines, _ROWS[letter].split(), strict=True):
            line.extend([False] * (number > 0) + [dot == "#" for dot in dots])
    return lines


def _halved(dots: list[list[bool]]) -> list[str]:
    """Return rows of dots two to a character, one above the other."""
    shapes = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}
    padded = [*dots, [False] * len(dots[0])]
    pairs = zip(padded[::2], padded[1::2], strict=True)
    return ["".join(shapes[cell] for cell in zip(upper, lower, strict=True)) for upper, lower in pairs]
