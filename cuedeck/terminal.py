"""Standard output and standard error. The invariant owned here: what is printed is visible, and commands nothing."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout

from cuedeck.visible import visible

TYPE_CHECKING = False  # that of `typing`, which takes half as long to load as the interpreter
if TYPE_CHECKING:
    from typing import Any, TextIO


class VisibleStream:
    """A stream of text that makes visible whatever is written to it, and is the stream itself in all else."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        """Write a text."""
        self.stream.write(visible(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


@contextmanager
def visible_output() -> Iterator[None]:
    """Have all that is printed made visible; a stream that is closed stays so."""
    with redirect_stdout(_visible(sys.stdout)), redirect_stderr(_visible(sys.stderr)):
        yield


def stream_to_draw_on(stream: TextIO) -> TextIO:
    """Return the stream under a visible one, for what moves the cursor; texts from outside go through `visible`."""
    return stream.stream if isinstance(stream, VisibleStream) else stream


def _visible(stream: TextIO | None) -> TextIO:
    return stream if stream is None else VisibleStream(stream)  # type: ignore[return-value]
