"""What comes of the text of a show that is edited, as the thread that writes it tells the screen."""

from __future__ import annotations

from dataclasses import dataclass

from cuedeck.timeline.opening import OpenedShow


@dataclass(frozen=True, eq=False)
class ShowChecked:
    """The show was read from its text, and checked."""

    opened: OpenedShow
    commands: int
    """How many commands of the screen it holds."""
    is_saved: bool
    """Whether the files on the disk say the same."""


@dataclass(frozen=True)
class StepRefused:
    """A step that the files do not allow, or another program's changes that cannot be taken in."""

    number: int
    what: str
    is_contested: bool = False
    """Whether it can be taken in by saying who is right."""


@dataclass(frozen=True)
class ChangedOutside:
    """Another program has changed files of the show."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class Saved:
    """What was edited is on the disk."""

    names: tuple[str, ...]
    commands: int
    """How many commands of the screen it holds."""


@dataclass(frozen=True)
class NotSaved:
    """A save that was not done."""

    what: str


@dataclass(frozen=True)
class DraftNotice:
    """Something that a person should know."""

    what: str


@dataclass(frozen=True)
class DiskTrouble:
    """Why what another program left on the disk is not taken in."""

    short: str
    problems: tuple[str, ...]
    """Each with its place and its cure."""


DraftNews = ShowChecked | StepRefused | ChangedOutside | Saved | NotSaved | DraftNotice
