"""Sessions of editing at random, with saves of another program in between: every step leads back, byte for byte."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest

from cuedeck.draft import cues, looks
from cuedeck.draft.draft import Draft, files_of
from cuedeck.draft.nudges import Nudges
from cuedeck.draft.steps import Edit
from cuedeck.errors import Refusal
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.folder.draft_news import DraftNews, ShowChecked, StepRefused
from cuedeck.show.source import Data
from tests.tui.shows import RIG, SHOTS

TEXT = (
    "# Mine.\n" + RIG + SHOTS.replace("- {cue: 3,", "- {cue: '2.5', at: 3 s, look: black}  # a blink\n      - {cue: 3,")
)
SESSIONS = int(os.environ.get("CUEDECK_SESSIONS", "6"))
STEPS = 25


class Session:
    """A draft and its files, without a screen: what the window does with both."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.random = Random(seed)  # noqa: S311 - nothing secret
        self.path = folder / "show.yaml"
        self.path.write_text(TEXT, encoding="utf-8", newline="")
        self.files = DraftFiles(folder)
        self.draft = Draft(self.files.open())
        self.news: list[DraftNews] = []
        self.files.begin(self.news.append)
        self.counts: dict[str, int] = {}

    def settle(self) -> None:
        """Take up what came of all that was asked."""
        self.files.settle()
        for news in list(self._news()):
            match news:
                case ShowChecked(opened, commands, is_saved) if commands >= self.files.asked - 1:  # not what was before
                    self.draft.read_again(opened, is_saved=is_saved)
                case ShowChecked():
                    self.files.check_again()
                    self.settle()
                case StepRefused(number):
                    self.draft.forget(number)
                    self.count("refused")

    def _news(self) -> Iterator[DraftNews]:
        while self.news:
            yield self.news.pop(0)

    def count(self, what: str) -> None:
        self.counts[what] = self.counts.get(what, 0) + 1

    def step(self) -> None:
        """Do one thing, and now and then let the files catch up."""
        doing = self.random.choice(["edit"] * 6 + ["undo", "undo", "redo", "foreign", "foreign", "save", "nudge"])
        self.count(doing)
        match doing:
            case "edit":
                with suppress(Refusal, KeyError):
                    self.make(self.edit())
            case "undo" | "redo":
                self.turn(back=doing == "undo")
            case "foreign":
                self.settle()
                self.foreign()
            case "save":
                self.files.save()
            case "nudge":
                self.nudge()
        if self.random.random() < 0.4:
            self.settle()

    def edit(self) -> Edit:
        opened, one = self.draft.opened, self.random
        shot = one.choice([*opened.show.shots] or ["none"])
        shots = opened.show.shots
        names = [cue.cue for cue in shots[shot].cues] if shot in shots else []
        cue, look = one.choice(names or ["none"]), one.choice([*opened.show.looks] or ["none"])
        match one.randrange(8):
            case 0:
                return cues.lengthen_fade(opened, shot, cue, Fraction(one.randrange(1, 9), 10))
            case 1:
                return cues.toggle_skip(opened, shot, cue)
            case 2:
                return cues.move_by_frames(opened, shot, cue, one.randrange(-9, 9))
            case 3:
                return cues.add(opened, shot, Fraction(one.randrange(40), 10), look)
            case 4:
                return cues.delete(opened, shot, cue, retie=True)
            case 5:
                return cues.duplicate(opened, shot, cue)
            case 6:
                return cues.rename(opened, shot, cue, f"n{one.randrange(99)}")
            case _:
                return looks.rename(opened, look, f"{look[:6]} {one.randrange(99)}")

    def make(self, edit: Edit) -> None:
        where = files_of(self.draft.opened, edit.changes)
        step = self.draft.make(edit)
        self.files.make(step.number, step.name, where, self.draft.nudges.plain())

    def nudge(self) -> None:
        look = self.random.choice([*self.draft.opened.show.looks] or ["none"])
        nudges = self.draft.nudges.with_parts(look, "left", {"level": f"{self.random.randrange(100)} %"})
        step = self.draft.nudge("nudge", self.random.choice([nudges, Nudges()]))
        self.files.make(step.number, step.name, [], self.draft.nudges.plain())

    def foreign(self) -> None:
        """Save as another program does: a value, a comment, a cue, half a file."""
        text, one = self.path.read_text(encoding="utf-8"), self.random
        match one.randrange(5):
            case 0:
                text = re.sub(r"right: \d+ %", f"right: {one.randrange(100)} %", text)
            case 1:
                text = f"# note {one.randrange(99)}\n{text}# end {one.randrange(99)}\n"
            case 2:
                text = text.replace(
                    "    cues:\n", f"    cues:\n      - {{cue: f{one.randrange(999)}, at: 0 s, look: black}}\n"
                )
            case 3:
                text = text.replace("slide: -300 mm", f"slide: -{one.randrange(100, 300)} mm")
            case _:
                text = text[: one.randrange(len(text))]
        self.path.write_text(text, encoding="utf-8", newline="")
        step = self.draft.take_in("theirs")
        self.files.take_in(step.number)
        self.settle()

    def turn(self, *, back: bool) -> bool:
        step = self.draft.undo() if back else self.draft.redo()
        if step is None:
            return False
        (self.files.undo if back else self.files.redo)(step.number, step.name, self.draft.nudges.plain())
        return True

    def now(self) -> tuple[Mapping[str, bytes], Data, Mapping[object, object]]:
        """Return the text as it is edited, the data in memory before that text is read, and what is nudged."""
        data = self.draft.opened.source.data
        self.settle()
        assert self.draft.opened.source.data == data, "the show in memory is not the one of the text"
        text = self.files.open()
        assert text.source.data == data
        return text.source.files, data, dict(self.draft.nudges.parts)


@pytest.mark.parametrize("seed", range(SESSIONS))
def test_undoing_all_and_doing_it_again_leads_through_every_text(seed: int) -> None:
    """Whatever another program saved in between; the text, the show in memory and the nudges."""
    with TemporaryDirectory() as place:
        session = Session(Path(place), seed)
        for _ in range(STEPS):
            session.step()
        session.settle()
        seen = [session.now()]
        while session.turn(back=True):
            seen.append(session.now())
        assert session.draft.opened.source.files["show.yaml"] == TEXT.encode()
        for expected in reversed(seen[:-1]):
            assert session.turn(back=False)
            assert session.now() == expected
        session.files.end()
