"""What the receivers at the end of simulated lines have to say, for a summary."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from cuedeck.output.base import Output
from cuedeck.output.handlers import SCHEME, name_of, receiver_of


def heard_on(outputs: Iterable[Output]) -> Iterator[tuple[str, str]]:
    """Yield a label and a text for each simulated line: what was outside ANSI E1.11 since the player began."""
    for output in outputs:
        port = getattr(output, "port", "")
        if port.startswith(SCHEME):
            receiver = receiver_of(name_of(port))
            remarks = ", ".join(f"{count} times {remark}" for remark, count in receiver.remarks.items())
            yield "line", f"{port} heard {receiver.count} packets; {remarks or 'nothing outside ANSI E1.11'}"
