"""Questions at a terminal, each with a default that Enter takes; without a terminal, the defaults answer."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from cuedeck.errors import Refusal

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Given:
    """What a flag of the command line gave."""

    flag: str
    text: str

    def read(self, read: Callable[[str], Answer]) -> Answer:
        """Return what `read` makes of it. Raises WrongAnswer, which names the flag."""
        try:
            return read(self.text)
        except WrongAnswer as wrong:
            raise WrongAnswer(f"{self.flag}: {wrong}") from wrong


class Questions:
    """Gets answers: from a flag, else from whoever sits at the terminal, else the default."""

    def __init__(self, *, may_ask: bool) -> None:
        streams = (sys.stdin, sys.stderr)
        self.asks = may_ask and all(stream is not None and stream.isatty() for stream in streams)
        """Whether somebody is there to be asked."""

    def answer(self, given: Given | None, words: str, default: str, read: Callable[[str], Answer]) -> Answer:
        """Return what `read` makes of an answer; a wrong one is told and asked for again.

        Raises Refusal where `read` refuses what a flag gave, and where the terminal ends.
        """
        if given is not None:
            return given.read(read)
        while self.asks:
            try:
                return read(self._line(words, default) or default)
            except WrongAnswer as wrong:
                print(f"  {wrong}", file=sys.stderr)
        return read(default)

    @staticmethod
    def tell(line: str) -> None:
        """Say something between the questions."""
        print(line, file=sys.stderr)

    @staticmethod
    def _line(words: str, default: str) -> str:
        print(f"{words} [{default}]: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            print(file=sys.stderr)
            raise Refusal("stopped before the last question: nothing was made")
        return line.strip()


class WrongAnswer(Refusal):
    """An answer that will not do. The message says what to write instead."""
