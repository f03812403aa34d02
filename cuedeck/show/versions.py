"""The versions of the show file, and the steps from each to the next.

A show is brought to the newest version on its plain data before the model sees it, so that one shape
exists in memory. The same step as changes of the text is what `cuedeck migrate` writes; reading the text
that it wrote gives the very data of the step.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from cuedeck.show.problems import Problem, ProblemsFound
from cuedeck.show.source import VERSION, Data, Source, read_source
from cuedeck.show.units import shorten
from cuedeck.show.yamltext.edit import Change, SetValue, apply_changes

Mapped = Mapping[str, Data]


@dataclass(frozen=True)
class VersionStep:
    """How a show gets from one version to the next. The keys that stay must stay where they were."""

    upgrade: Callable[[Mapped], dict[str, Data]]
    """Returns the data as the next version has it."""
    changes: Callable[[Mapped], list[Change]]
    """Returns the changes of the text that do the same."""
    note: str
    """What it did, for the user."""


STEPS: Mapping[str, VersionStep] = {
    "1": VersionStep(
        upgrade=lambda data: {**data, "cuedeck": "2"},
        changes=lambda _: [SetValue(("cuedeck",), "2")],
        note="version 1 is now version 2, which can hold included files, groups, modes, measured dimmers and"
        " colour targets; nothing else in it had to change",
    ),
}
"""The step that leads on from each older version."""


def upgraded(data: Mapped, steps: Mapping[str, VersionStep] = STEPS) -> dict[str, Data]:
    """Return the data of a show in the newest version; data of no older version as it is."""
    newest = dict(data)
    while (step := _step_from(newest, steps)) is not None:
        newest = step.upgrade(newest)
    return newest


def migrated(
    raw: bytes, file: str = "show.yaml", steps: Mapping[str, VersionStep] = STEPS
) -> tuple[bytes, tuple[str, ...]]:
    """Return a show file in the newest version, and a note for each step that it took: none where it was there.

    Only what the steps change is another byte. Raises ProblemsFound where the file cannot be read, where it
    was written by a newer cuedeck, and where it does not say its version; EditRefused where the file as it
    is written does not allow the change.
    """
    notes: list[str] = []
    source = read_source(file, raw)
    refuse_newer(source)
    while (step := _step_from(source.data, steps)) is not None:
        raw = apply_changes(file, raw, step.changes(source.data))
        source = read_source(file, raw)
        notes.append(step.note)
    if source.data.get("cuedeck") != VERSION:
        what = "the show does not say which version of the show file it is"
        cure = f"write 'cuedeck: {VERSION}' at its top"
        raise ProblemsFound([Problem(source.place_of_value(("cuedeck",)), what, cure)])
    return raw, tuple(notes)


def refuse_newer(source: Source) -> None:
    """Raise ProblemsFound where a newer cuedeck wrote the show: what else it says may mean something else by now."""
    version = source.data.get("cuedeck")
    if not (isinstance(version, str) and re.fullmatch(r"[1-9]\d*", version, re.ASCII)):
        return
    if (len(version), version) > (len(VERSION), VERSION):
        what = f"this show was written by a newer cuedeck (version {shorten(version)})"
        cure = f"install the newest cuedeck; this one reads versions up to {VERSION}"
        raise ProblemsFound([Problem(source.place_of_value(("cuedeck",)), what, cure)])


def _step_from(data: Mapped, steps: Mapping[str, VersionStep]) -> VersionStep | None:
    version = data.get("cuedeck")
    return steps.get(version) if isinstance(version, str) else None
