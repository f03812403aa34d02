"""Text made harmless where it becomes output: characters that a terminal would obey or hide are shown instead.

Names of files, journals, logs and messages come from outside. A control character in them could write the
clipboard or the title of the terminal. A character without width, or one that reverses the direction of writing,
could make a name read as another. Each character becomes exactly one, so that columns keep their counted width.
"""

from __future__ import annotations

HIDDEN = "\ufffd"
"""What is shown for a character that has no picture of its own."""
_DELETE, _PICTURES = 0x7F, 0x2400
"""The block of Control Pictures begins with those of U+0000 to U+001F. [The Unicode Standard, chart U2400]"""


class _Shown(dict[int, str]):
    """A table for `str.translate`, filled when a character is first met: there are over a million."""

    def __missing__(self, code: int) -> str:
        self[code] = _shown(chr(code))
        return self[code]


class _ShownInLine(_Shown):
    """The same for a text of one line: a line end becomes a blank."""

    def __missing__(self, code: int) -> str:
        self[code] = " " if chr(code).isspace() else _shown(chr(code))
        return self[code]


def _shown(character: str) -> str:
    code = ord(character)
    if code < ord(" "):
        return chr(_PICTURES + code)
    if code == _DELETE:
        return "\u2421"
    if character.isprintable():
        return character
    is_blank = character.isspace() and character not in "\x85\u2028\u2029"  # those end a line
    return " " if is_blank else HIDDEN


_SHOWN = _Shown({ord("\n"): "\n", ord("\t"): "\t"})
_SHOWN_IN_LINE = _ShownInLine()


def visible(text: str) -> str:
    """Return a text of lines and tabs that a terminal shows as it is."""
    return text if text.isprintable() else text.translate(_SHOWN)


def visible_line(text: str) -> str:
    """Return a text that a terminal shows as it is, on one line."""
    return text if text.isprintable() else text.translate(_SHOWN_IN_LINE)
