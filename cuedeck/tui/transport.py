"""The playhead: where in the shot the screen is, and whether it runs. It is handed the time, never reads it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from cuedeck.timing.labels import frame_at, frame_count

NS_PER_S = 1_000_000_000


@dataclass(frozen=True)
class Playhead:
    """A place in a shot of some length; where it runs, it was at the start of the shot at `origin_ns`."""

    fps: Fraction
    length_s: Fraction
    at_s: Fraction = Fraction(0)
    """Where it is, in seconds from the start of the shot."""
    origin_ns: int | None = None
    """When the clock read the start of the shot; None while it stands."""
    has_open_end: bool = False
    """Whether it runs on past the length, because the shot still waits for its operator."""

    @property
    def is_running(self) -> bool:
        """Whether it moves with the clock."""
        return self.origin_ns is not None

    @property
    def is_at_end(self) -> bool:
        """Whether nothing of the shot is left."""
        return self.at_s >= self.length_s and not self.has_open_end

    @property
    def frame(self) -> int:
        """The camera frame it stands in, the first being 0."""
        return frame_at(self.at_s, self.fps)

    @property
    def is_in_frame(self) -> bool:
        """Whether it stands in a frame of the shot: the instant of the end belongs to none."""
        return self.has_open_end or self.frame < frame_count(self.length_s, self.fps)

    def packet(self, refresh_hz: Fraction) -> int:
        """Return the number of the first packet at or after it."""
        return -int(-self.at_s * refresh_hz // 1)

    def run(self, now_ns: int) -> Playhead:
        """Return it running from where it stands, or from the start where it stands at the end."""
        at_s = Fraction(0) if self.is_at_end else self.at_s
        return replace(self, at_s=at_s, origin_ns=now_ns - int(at_s * NS_PER_S))

    def stop(self, now_ns: int) -> Playhead:
        """Return it standing where it has come to."""
        return replace(self.tick(now_ns), origin_ns=None)

    def tick(self, now_ns: int) -> Playhead:
        """Return it at the time of the clock; at the end of the shot it stands."""
        if self.origin_ns is None:
            return self
        at_s = Fraction(max(now_ns - self.origin_ns, 0), NS_PER_S)
        if at_s >= self.length_s and not self.has_open_end:
            return replace(self, at_s=self.length_s, origin_ns=None)
        return replace(self, at_s=at_s)

    def step(self, frames: int) -> Playhead:
        """Return it standing on the camera frame so many frames on, inside the shot."""
        return self.to((self.frame + frames) / self.fps)

    def to(self, time_s: Fraction) -> Playhead:
        """Return it standing at a time, inside the shot."""
        return replace(self, at_s=min(max(time_s, Fraction(0)), self.length_s), origin_ns=None)

    def led(self, at_s: Fraction, *, is_running: bool) -> Playhead:
        """Return it where somebody else says it is, also past the end; it does not go by the clock."""
        return replace(self, at_s=at_s, origin_ns=0 if is_running else None)

    def with_length(self, length_s: Fraction, has_open_end: bool) -> Playhead:
        """Return it in a shot that has become longer or shorter."""
        return replace(self, length_s=length_s, has_open_end=has_open_end)
