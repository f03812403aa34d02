"""Standard output and standard error. The invariant owned here: printed text cannot control the terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout

from cuedeck.visible import visible

TYPE_CHECKING = False  # that of `typing`, which takes half as long to load as the interpreter
if TYPE_CHECKING:
    from typing import Any, TextIO


class VisibleStream:
    """A text stream that replaces control and invisible characters in whatever is written to it."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        self.stream.write(visible(text))
        return len(text)  # of what the caller gave: some callers write again what seems to be missing

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        # Programs ask streams for isatty, fileno, encoding and more. What writes to `buffer` goes past the filter.
        return getattr(self.stream, name)


@contextmanager
def visible_output() -> Iterator[None]:
    """Filter all that is printed meanwhile. A stream that the program was started without stays None."""
    with redirect_stdout(_visible(sys.stdout)), redirect_stderr(_visible(sys.stderr)):
        yield


def stream_to_draw_on(stream: TextIO) -> TextIO:
    """Return the stream without the filter, to move the cursor; pass texts from outside through `visible` yourself."""
    return stream.stream if isinstance(stream, VisibleStream) else stream


def _visible(stream: TextIO | None) -> TextIO:
    # None under pythonw, or with a closed descriptor: print does nothing then, and an object in its place would fail.
    return stream if stream is None else VisibleStream(stream)  # type: ignore[return-value]
