"""Questions to the user on standard error."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from cuedeck.cli.printing import say
from cuedeck.errors import Refusal

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class FlagValue:
    """The value of a flag of the command line."""

    flag: str
    text: str

    def read(self, read: Callable[[str], Answer]) -> Answer:
        """Return what `read` makes of it. Raises WrongAnswer, which names the flag."""
        try:
            return read(self.text)
        except WrongAnswer as wrong:
            raise WrongAnswer(f"{self.flag}: {wrong}") from wrong


def ask(question: str) -> str | None:
    """Ask on standard error; return the answer with single blanks, or None at the end of the input."""
    if sys.stdin is None:
        return None
    print(question, end="", file=sys.stderr, flush=True)
    text = sys.stdin.readline()
    if not sys.stdin.isatty():
        print(text.strip(), file=sys.stderr)
    return " ".join(text.split()) if text else None


class Questions:
    """Gets answers from flags, else from the user at the terminal, else the defaults."""

    def __init__(self, *, may_ask: bool) -> None:
        streams = (sys.stdin, sys.stderr)
        self.asks = may_ask and all(stream is not None and stream.isatty() for stream in streams)
        """Whether there is a terminal to ask at."""

    def answer(self, given: FlagValue | None, words: str, default: str, read: Callable[[str], Answer]) -> Answer:
        """Return what `read` makes of an answer; after a wrong one it asks again.

        Raises Refusal where `read` refuses what a flag gave, and where the terminal ends.
        """
        if given is not None:
            return given.read(read)
        while self.asks:
            try:
                return read(self._line(words, default) or default)
            except WrongAnswer as wrong:
                say(f"  {wrong}")
        return read(default)

    @staticmethod
    def _line(words: str, default: str) -> str:
        print(f"{words} [{default}]: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            print(file=sys.stderr)
            raise Refusal("stopped before the last question: nothing was made")
        return line.strip()


class WrongAnswer(Refusal):
    """An answer that cannot be used. The message says what to write instead."""
