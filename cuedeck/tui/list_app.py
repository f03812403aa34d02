"""What the application has of its lists: the problems of the show, and the steps that can be undone."""

from __future__ import annotations

from dataclasses import replace

from cuedeck.show.problems import Problem
from cuedeck.show.source import path_at
from cuedeck.tui.lists import ListScreen, problem_text
from cuedeck.tui.moving_app import MovingApp


class ListApp(MovingApp):
    """Shows lists, and goes to what is chosen in them."""

    def action_problems(self) -> None:
        """List what is wrong with the show, and with its files on the disk where they are not taken in."""
        problems, trouble = self.draft.opened.problems, self.disk_trouble
        on_disk = trouble.problems if trouble else ()
        if not problems and not on_disk:
            self.say("nothing is wrong with the show")
            return

        def go(index: int | None) -> None:
            if index is not None and index >= len(on_disk):
                self.go_to_problem(problems[index - len(on_disk)])
            elif index is not None:
                self.say(
                    "this is to be mended in the file, with a text editor; what you see here is the show before it"
                )

        title = "problems: an error stops the takes of its shot" if self.draft.opened.errors else "warnings"
        title = f"{trouble.short}: what you see is the show before it" if trouble else title
        rows = [f"on the disk · {one}" for one in on_disk] + [problem_text(one) for one in problems]
        self.push_screen(ListScreen(title, rows, "!"), go)

    def go_to_problem(self, problem: Problem) -> None:
        """Go to the cue, the light or the look that a problem is about."""
        source = self.draft.opened.source
        path = path_at(source, problem.place)
        match path:
            case ("shots", str(shot), "cues", int(index), *_) if shot in self.shots:
                self._go_to_cue(shot, index)
            case ("shots", str(shot), *_) if shot in self.shots:
                self.action_show_shot(shot)
            case ("rig", str(light), *_):
                self.go_to_rig(light)
            case ("looks", str(look), *rest):
                self._go_to_look(look, rest)
            case _:
                self.say(f"{problem.place}: this is to be mended in the file, with a text editor")

    def _go_to_cue(self, shot: str, index: int) -> None:
        self.action_show_shot(shot)
        if self.rehearsal is None or index >= len(self.rehearsal.plan.shot.cues):
            return
        name = self.rehearsal.plan.shot.cues[index].cue
        start_s = self.rehearsal.starts[name]
        self.choose_cue(name)
        if start_s is not None:
            self.go_to(start_s)

    def _go_to_look(self, look: str, rest: list[str | int]) -> None:
        """Go to the end of the fade of the first cue that goes to a look, and to the light in it."""
        for shot, plan in ((shot, self.seen.plan(shot)) for shot in self.shots):
            cue = next((cue for cue in plan.timeline().cues if cue.look == look), None)
            if cue is None:
                continue
            self.action_show_shot(shot)
            self.go_to(cue.end_s / self.rehearsal_speed)
            if rest and str(rest[0]) in self.lights:
                self.choose_light(str(rest[0]))
            else:
                self.choose_cue(cue.name)
            return
        self.say(f"no cue goes to look {look}: use it, or take it out of the file")

    def go_to_rig(self, light: str) -> None:
        """Go to a light on the rig screen."""
        self.selection = replace(self.selection, light=light if light in self.lights else self.selection.light)
        self.run_worker(self.run_action("rig"))

    def action_steps(self) -> None:
        """List the steps that were made, the newest first, and go back to one."""
        made, undone = self.draft.done, self.draft.undone
        if not made and not undone:
            self.say("nothing was edited yet")
            return
        rows = [f"  {step.name} (undone)" for step in undone]
        rows += [f"{'▸' if number == 0 else ' '} {step.name}" for number, step in enumerate(reversed(made))]
        rows.append("  as the show was opened")
        here = len(undone)

        def go(index: int | None) -> None:
            by = 0 if index is None else index - here
            for _ in range(abs(by)):
                self.action_undo() if by > 0 else self.action_redo()

        self.push_screen(ListScreen("steps, the newest first", rows, "u", here), go)
