"""Which name was meant by one that is not known: only where it differs by a slip of the hand.

What parts one light from another is often a short word, a letter or a number: a cure never crosses that.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

_APART = re.compile(r"[\s_-]+")
_DIGITS = re.compile(r"\d+")
_NUMERAL = re.compile(r"[ivx]+")
_ABBREVIATION = re.compile(r"[^aeiouy]+", re.ASCII)
_SHORTEST_SWAPPED = 3
"""Letters of the shortest word in which two may have changed places, or one may be missing or too many."""
_SHORTEST_WRONG = 5
"""Letters of the shortest word of a user's in which one may be wrong: 'fill' and 'full' are two words."""


def as_one(text: str) -> str:
    """Return a name in the one form it has here, however its accents are put together (Unicode NFC)."""
    return text if text.isascii() else unicodedata.normalize("NFC", text)


def nearest(word: str, known: Iterable[str], *, are_keys: bool = False) -> str | None:
    """Return the one known name that a word is but for a slip: of case or space, or of one letter.

    None where there is none, or more than one. Of keys, which mean nothing else, short ones may have a wrong letter.
    """
    return _nearest(word, tuple(known), _SHORTEST_SWAPPED if are_keys else _SHORTEST_WRONG)


@lru_cache(maxsize=4096)
def _nearest(word: str, known: tuple[str, ...], shortest_wrong: int) -> str | None:
    """Do what nearest does, once for a mistake that is made everywhere."""
    words = _words(word)
    alike = [name for name in known if "".join(_words(name)) == "".join(words)]
    found = alike or [name for name in known if _differ_by_a_slip(words, _words(name), shortest_wrong)]
    return found[0] if len(found) == 1 else None


@lru_cache(maxsize=8192)
def _words(name: str) -> tuple[str, ...]:
    return tuple(_APART.split(as_one(name).casefold().strip()))


def _differ_by_a_slip(written: tuple[str, ...], known: tuple[str, ...], shortest_wrong: int) -> bool:
    """Whether two names of as many words are the same but for a slip in one word."""
    if len(written) != len(known) or abs(sum(map(len, written)) - sum(map(len, known))) > 1:
        return False
    other = [(one, two) for one, two in zip(written, known, strict=True) if one != two]
    return len(other) == 1 and _is_slip(*other[0], shortest_wrong)


def _is_slip(written: str, known: str, shortest_wrong: int) -> bool:
    """Whether one letter of a word is missing, too many or wrong, or two that stand together changed places."""
    if _DIGITS.findall(written) != _DIGITS.findall(known):
        return False
    if _ABBREVIATION.fullmatch(known) or (_NUMERAL.fullmatch(known) and _NUMERAL.fullmatch(written)):
        return False  # each letter of it counts
    short, long = sorted((written, known), key=len)
    if len(long) < _SHORTEST_SWAPPED:
        return False
    same = next((at for at, (one, two) in enumerate(zip(short, long, strict=False)) if one != two), len(short))
    if len(short) < len(long):
        return same > 0 and short[same:] == long[same + 1 :]
    if short[same + 2 :] == long[same + 2 :] and short[same : same + 2] == long[same : same + 2][::-1]:
        return True
    return same > 0 and len(long) >= shortest_wrong and short[same + 1 :] == long[same + 1 :]
