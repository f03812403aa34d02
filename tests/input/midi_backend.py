"""A driver of MIDI ports behind mido's interface of backends, without a device: what is sent in comes out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from mido.ports import BaseInput, BaseOutput

PORTS = ["Studio In"]
opened: list[Input] = []
written: list[Output] = []


def get_devices(**_: Any) -> list[dict[str, Any]]:
    """Return the devices."""
    return [
        *({"name": name, "is_input": True, "is_output": False} for name in PORTS),
        {"name": "Studio Out", "is_input": False, "is_output": True},
    ]


class Output(BaseOutput):  # type: ignore[misc]
    """An output that keeps what is sent; it is lost where `lost_after` messages were."""

    lost_after = 1_000_000

    def _open(self, **_: Any) -> None:
        self.sent: list[bytes] = []
        written.append(self)

    def _send(self, message: Any) -> None:
        if len(self.sent) >= self.lost_after:
            raise OSError("No Such Device")
        self.sent.append(bytes(message.bytes()))


class Input(BaseInput):  # type: ignore[misc]
    """An input that is played from a test."""

    callback: Callable[[Any], None]

    def _open(self, **options: Any) -> None:
        if self.name == "Busy":
            raise OSError("Port Is In Use")
        self.callback = options["callback"]
        opened.append(self)

    def play(self, data: bytes) -> None:
        """Let bytes come in, as a driver does from its own thread."""
        self._parser.feed(data)
        for message in self._parser:
            self.callback(message)
