"""The screen, driven by keys and a clock that is moved by hand."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Literal

import pytest
from textual import events
from textual.geometry import Size
from textual.pilot import Pilot

from cuedeck.clock import ManualClock
from cuedeck.folder.draft_files import DraftFiles
from cuedeck.report.picture import PictureRow
from cuedeck.timeline.positions import AxisPosition
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.cue_panel import CuePanel
from cuedeck.tui.key_screen import KeyScreen
from cuedeck.tui.lines import EndsLine
from cuedeck.tui.rehearsal import Rehearsal
from cuedeck.tui.shot_view import ShotView, playhead_glyph
from cuedeck.tui.words import axes_texts
from tests.tui.shows import RIG, SHOTS, opened
from tests.waiting import wait_on_screen

SMALL = (80, 24)


def screen_of(clock: ManualClock, shots: str = SHOTS, rig: str = RIG) -> CuedeckApp:
    return CuedeckApp("small", opened(shots, rig), clock, lambda shot: f"{shot}-C")


def rehearsal_of(app: CuedeckApp) -> Rehearsal:
    assert app.rehearsal is not None
    return app.rehearsal


def levels_of(app: CuedeckApp) -> dict[str, float]:
    return {state.name: round(state.level, 2) for state in rehearsal_of(app).simulator.states()}


def lines_of(app: CuedeckApp) -> list[str]:
    """Return what stands on the terminal."""
    return [strip.text for strip in app.screen._compositor.render_strips()]


async def go_on(pilot: Pilot[None], app: CuedeckApp, clock: ManualClock, to_s: float) -> None:
    clock.wait_until_ns(int(to_s * 1e9))
    app.tick()
    await pilot.pause()


async def test_space_runs_the_shot_and_the_simulator_follows_the_packets() -> None:
    """Half a second into the fade of cue 2 its lights are half way; space stops them there."""
    app = screen_of(clock := ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("space")
        await go_on(pilot, app, clock, 2.5)
        assert rehearsal_of(app).playhead.at_s == Fraction(5, 2)
        assert levels_of(app) == {"left": 0.5, "right": 0.25, "wall": 0.0, "rider": 0.0}
        await pilot.press("space")
        await go_on(pilot, app, clock, 60)
        assert rehearsal_of(app).playhead.at_s == Fraction(5, 2)


async def test_at_the_end_it_stops_and_space_runs_it_from_the_start() -> None:
    """The last look stays until then."""
    app = screen_of(clock := ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("space")
        await go_on(pilot, app, clock, 60)
        assert not rehearsal_of(app).playhead.is_running
        assert levels_of(app) == {"left": 1.0, "right": 0.5, "wall": 0.4, "rider": 0.0}
        await pilot.press("space")
        assert rehearsal_of(app).playhead.is_running
        assert rehearsal_of(app).playhead.at_s == 0


@pytest.mark.parametrize(
    ("keys", "frame"),
    [
        (["right"], 1),
        (["right", "right", "left"], 1),
        (["left"], 0),
        (["shift+right"], 10),
        (["shift+right", "shift+left"], 0),
        (["end"], 100),
        (["end", "home"], 0),
    ],
)
async def test_arrows_home_and_end_scrub_by_camera_frames(keys: list[str], frame: int) -> None:
    """The shot lasts 4 s at 25 frames a second: frames 0 to 99, and the end, which is in none."""
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press(*keys)
        assert rehearsal_of(app).playhead.frame == frame
        label = "the end " if frame == 100 else f"00:00:{frame // 25:02d}:{frame % 25:02d}"
        assert app.query_one("#status", EndsLine).left.startswith(label)


@pytest.mark.parametrize(("keys", "shot"), [("2", "2"), ("]]", "macro"), ("]]]", "macro"), ("2[", "1"), ("9", "1")])
async def test_digits_and_brackets_go_to_another_shot(keys: str, shot: str) -> None:
    """A digit without a shot of that name does nothing."""
    app = screen_of(ManualClock())
    named = {"[": "left_square_bracket", "]": "right_square_bracket"}
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press(*(named.get(key, key) for key in keys))
        assert f"shot {shot}" in app.query_one("#top", EndsLine).left
        assert f"next slate {shot}-C" in app.query_one("#top", EndsLine).left


async def test_enter_fires_the_operator_cue_at_the_packet_of_the_playhead() -> None:
    """The shot waits for it as long as it takes, and ends when its fades have ended."""
    app = screen_of(clock := ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("2", "enter")
        assert not rehearsal_of(app).fired
        await pilot.press("space")
        await go_on(pilot, app, clock, 3.01)
        await pilot.press("enter")
        assert [(one.cue, one.packet) for one in rehearsal_of(app).fired] == [("go", 121)]
        await go_on(pilot, app, clock, 3.525)
        assert levels_of(app)["left"] == 0.5
        await go_on(pilot, app, clock, 60)
        assert rehearsal_of(app).playhead.at_s == Fraction(121, 40) + 2


async def test_a_run_from_the_start_has_nothing_fired() -> None:
    """The operator fires again in every run."""
    app = screen_of(clock := ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("2", "space", "enter")
        await go_on(pilot, app, clock, 60)
        await pilot.press("space")
        assert rehearsal_of(app).waiting_cues == ("go",)


async def test_the_panel_names_the_cue_at_the_playhead_and_the_next() -> None:
    """With what starts it, and the label of the frame that is."""
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        panel = app.query_one(CuePanel)
        assert panel.border_title == "cue 1, black"
        assert "starts  slide 0 mm" in panel.lines
        assert "frame   00:00:02:00" in panel.lines
        await pilot.press("end")
        assert panel.border_title == "cue 3, dusk"
        assert "starts  0.5 s after cue 2" in panel.lines
        assert "no cue after this" in panel.lines


@pytest.mark.parametrize("closing", ["escape", "question_mark", "q", "space"])
async def test_the_list_of_keys_opens_and_closes(closing: str) -> None:
    """The shot runs on behind it, and the key that closes it does nothing else."""
    app = screen_of(clock := ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("space", "question_mark")
        assert isinstance(app.screen, KeyScreen)
        await go_on(pilot, app, clock, 1)
        assert rehearsal_of(app).playhead.at_s == 1
        assert any("escape, ?, q or space closes" in line for line in lines_of(app))
        await pilot.press(closing)
        assert not isinstance(app.screen, KeyScreen)
        assert rehearsal_of(app).playhead.is_running


@pytest.mark.parametrize("keys", [["q"], ["ctrl+c"], ["question_mark", "q", "q"], ["question_mark", "ctrl+c"]])
async def test_q_and_ctrl_c_quit(keys: list[str]) -> None:
    """With the list of keys open, q closes that first."""
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press(*keys)
        await pilot.pause()
        assert not app.is_running


async def test_lanes_scroll_where_there_are_more_lights_than_lines() -> None:
    """Down brings the last light into view, and no further."""
    many = "".join(f"  spot {n}: {{type: panel, address: 2.{3 * n + 1}}}\n" for n in range(30))
    app = screen_of(ManualClock(), rig=RIG.replace("looks:\n", f"{many}looks:\n"))
    async with app.run_test(size=SMALL) as pilot:
        view = app.query_one(ShotView)
        texts = ["".join(segment.text for segment in view.render_line(y)) for y in range(view.size.height)]
        assert any("lights 1-10 of 34" in text for text in texts)
        await pilot.press(*["down"] * 40)
        assert view.first_lane == 24
        assert "spot 29" in "".join(segment.text for segment in view.render_line(view.size.height - 2))
        assert app.query_one("#set").size.height >= 8


@pytest.mark.parametrize(("running", "verb"), [([], "run"), (["space"], "stop")])
async def test_the_status_line_keeps_the_keys_however_many_axes_there_are(running: list[str], verb: str) -> None:
    """The axes lose their units first, then the last of them their place."""
    axes = ", ".join(f"axis {number}: {number}00 mm" for number in range(6))
    shots = f'shots:\n  "1":\n    move: {{keys: [{{time: 0 s, {axes}}}, {{time: 4 s, {axes}}}], ease: linear}}\n'
    app = screen_of(ManualClock(), shots)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press(*running)
        status = lines_of(app)[-1]
        assert status.rstrip().endswith(f"space {verb}  ? keys  q quit")
        assert " axis 0 0  …  " in status


@pytest.mark.parametrize(
    ("count", "texts"),
    [
        (0, ["", ""]),
        (1, ["slide 120.5 mm", "slide 120.5", "…"]),
        (2, ["slide 120.5 mm  turn 30 deg", "slide 120.5  turn 30", "slide 120.5  …", "…"]),
    ],
)
def test_axes_are_told_in_shorter_and_shorter_texts(count: int, texts: list[str]) -> None:
    assert axes_texts([AxisPosition("slide", 120.5, "mm"), AxisPosition("turn", 30, "deg")][:count]) == texts


async def test_where_no_lane_has_room_it_says_how_many_lights_are_not_shown() -> None:
    """On a screen of 60 x 15 a move of two axes takes all lines."""
    shots = SHOTS.replace("slide: -300 mm", "slide: -300 mm, turn: 0 deg")
    shots = shots.replace("slide: 300 mm", "slide: 300 mm, turn: 9 deg")
    app = screen_of(ManualClock(), shots)
    async with app.run_test(size=(60, 15)):
        assert any(line.startswith(" 4 not shown ") for line in lines_of(app))


async def test_a_click_on_the_shot_puts_the_playhead_there() -> None:
    """The last column is the end of the shot."""
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.click(ShotView, offset=(78, 3))
        assert rehearsal_of(app).playhead.at_s == 4


@pytest.mark.parametrize("size", [(20, 6), (40, 12), (80, 24), (300, 100)])
async def test_any_size_of_terminal_is_drawn(size: tuple[int, int]) -> None:
    """Too small a terminal shows less, and fails at nothing."""
    app = screen_of(ManualClock())
    async with app.run_test(size=size) as pilot:
        await pilot.press("end", "2", "3", "right_square_bracket", "question_mark")
        await pilot.resize_terminal(60, 20)
        await wait_on_screen(pilot, lambda: [len(line) for line in lines_of(app)] == [60] * 20)


@pytest.mark.parametrize(
    ("before", "after"),
    [((120, 40), (80, 24)), ((20, 6), (200, 50)), ((120, 40), (50, 12)), ((80, 24), (120, 40)), ((80, 24), (20, 6))],
)
@pytest.mark.parametrize("is_covered", [False, True], ids=["open", "keys over it"])
async def test_after_a_resize_the_screen_is_as_if_started_so(
    before: tuple[int, int], after: tuple[int, int], is_covered: bool
) -> None:
    """Wider, narrower, higher and lower; also where the list of keys was over it meanwhile."""
    started = screen_of(ManualClock())
    async with started.run_test(size=after) as pilot:
        await pilot.pause()
        expected = lines_of(started)
    app = screen_of(ManualClock())
    async with app.run_test(size=before) as pilot:
        await pilot.press(*["question_mark"] * is_covered)
        await pilot.resize_terminal(*after)
        await pilot.press(*["escape"] * is_covered)
        await wait_on_screen(pilot, lambda: lines_of(app) == expected)
    assert len(expected) == after[1]
    assert expected[-1].rstrip().endswith("? keys") or "quit" in expected[-1]


async def test_several_resizes_at_once_leave_the_last() -> None:
    """As when a window is dragged."""
    started = screen_of(ManualClock())
    async with started.run_test(size=SMALL) as pilot:
        await pilot.pause()
        expected = lines_of(started)
    app = screen_of(ManualClock())
    async with app.run_test(size=(120, 40)) as pilot:
        for size in ((100, 30), (30, 8), (140, 50), SMALL):
            app.post_message(events.Resize(Size(*size), Size(*size)))
        await wait_on_screen(pilot, lambda: lines_of(app) == expected)


SOUND = SHOTS.partition('  "2":')[0]
"""Without the shot that has nothing but operator cues, which is warned about."""


async def test_warnings_are_counted_on_top_and_listed_by_their_key() -> None:
    """Each with its place and its cure; a show without any says nothing about them."""
    app = screen_of(ManualClock())
    (problem,) = opened().problems
    async with app.run_test(size=SMALL) as pilot:
        assert "1 warning, see !" in lines_of(app)[0]
        await pilot.press("exclamation_mark")
        texts = "\n".join(lines_of(app))
        assert f"warning · {problem.place}" in texts
        assert problem.what[:40] in texts
        assert "→ " in texts
    app = screen_of(ManualClock(), SOUND)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("exclamation_mark")
        assert "nothing is wrong with the show" in app.said.text
        assert "warning" not in "".join(lines_of(app))


@pytest.mark.parametrize(("width", "has_title"), [(120, True), (80, True), (60, False)])
async def test_the_title_of_the_show_stands_on_top_where_it_has_room(width: int, has_title: bool) -> None:
    """Beside the name of its folder."""
    app = screen_of(ManualClock(), SOUND)
    async with app.run_test(size=(width, 24)):
        assert lines_of(app)[0].startswith(f" small{' · a small set' * has_title} · shot 1 reveal")


@pytest.mark.parametrize(
    ("kind", "column", "glyph"),
    [
        *(("time", column, glyph) for column, glyph in ((0, "0"), (1, " "), (3, "▼"), (5, "1"), (6, " "), (7, "s"))),
        *(("cues", column, glyph) for column, glyph in ((3, "▲"), (4, " "), (5, "1"))),
        ("light", 5, "┃"),
    ],
)
def test_the_playhead_hides_no_word_of_the_ruler_or_the_cues(
    kind: Literal["time", "cues", "light"], column: int, glyph: str
) -> None:
    """Its head and foot are drawn only where they touch no word."""
    row = PictureRow("", kind, "0    1 s    ")
    assert playhead_glyph(row, column) == glyph


async def test_a_lane_of_two_lines_shows_how_high_full_would_be() -> None:
    """At half, the lower line is full and over the upper there is an edge."""
    app = screen_of(ManualClock())
    async with app.run_test(size=(120, 40)):
        lines = lines_of(app)
        (right,) = (y for y, line in enumerate(lines) if line.startswith(" right "))
        assert lines[right - 1].rstrip().endswith("▔▔▔")
        assert lines[right].rstrip().endswith("███")


@pytest.mark.parametrize("rig", [RIG, RIG.split("types:", maxsplit=1)[0]])
@pytest.mark.parametrize("shots", ["", 'shots: {"1": {title: nothing in it}}\n'])
async def test_a_show_with_nothing_in_it_can_be_looked_at(shots: str, rig: str) -> None:
    """No shot, no light, no length: every key is harmless."""
    app = screen_of(ManualClock(), shots, rig)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("space", "left", "end", "enter", "1", "right_square_bracket", "down", "home")
        assert app.is_running


async def test_names_that_look_like_markup_or_take_two_cells_are_shown_as_they_are() -> None:
    """A show may call its things what it likes."""
    rig = RIG.replace("  left:", "  '[b]灯[/':").replace("{left:", "{'[b]灯[/':")
    shots = SHOTS.replace("cue: 1,", "cue: '[red]1[/x',").replace("title: reveal", "title: '[/]'")
    app = screen_of(ManualClock(), shots, rig)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("right", "ctrl+p")
        await pilot.pause()
        await pilot.press("q", "escape")
        assert app.is_running
        strip = app.query_one(ShotView).render_line(3)
        assert strip.text.startswith("[b]灯[/")
        assert strip.cell_length == 78
        assert str(app.query_one(CuePanel).border_title).replace("\\[", "[") == "cue [red]1[/x, black"


# Timecode and off-speed.


async def test_frames_are_labelled_from_the_timecode_that_the_shot_starts_at() -> None:
    app = screen_of(ManualClock(), SHOTS.replace("title: reveal", "title: reveal\n    starts at: 01:00:00:00"))
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("right", "right", "right")
        assert app.query_one("#status", EndsLine).left.startswith("01:00:00:03")
        assert any("01:00:02:00" in line for line in lines_of(app))  # cue 2, at 0 mm, starts in frame 50


async def test_a_show_that_is_opened_at_a_quarter_of_the_speed_takes_four_times_as_long() -> None:
    app = CuedeckApp("small", opened(), clock := ManualClock(), None, Fraction(1, 4))
    async with app.run_test(size=(120, 30)) as pilot:
        assert rehearsal_of(app).playhead.length_s == 16
        assert "speed 1/4" in lines_of(app)[0]
        await pilot.press("space")
        await go_on(pilot, app, clock, 10)
        assert levels_of(app) == {"left": 0.5, "right": 0.25, "wall": 0.0, "rider": 0.0}
        assert any("fade" in line and "4 s  linear" in line for line in lines_of(app))


async def test_a_show_that_is_saved_is_shown_as_it_is_now_with_the_playhead_where_it_was(tmp_path: Path) -> None:
    """One that cannot run changes nothing, and that is said."""
    (tmp_path / "show.yaml").write_text(RIG + SHOTS, encoding="utf-8")
    files = DraftFiles(tmp_path)
    app = CuedeckApp("small", files.open(), ManualClock(), files=files)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("end")
        at_s = rehearsal_of(app).playhead.at_s
        assert levels_of(app)["right"] == 0.5
        (tmp_path / "show.yaml").write_text((RIG + SHOTS).replace("right: 50 %", "right: 25 %"), encoding="utf-8")
        await wait_on_screen(pilot, lambda: levels_of(app)["right"] == 0.25)
        assert rehearsal_of(app).playhead.at_s == at_s
        (tmp_path / "show.yaml").write_text("looks: [", encoding="utf-8")
        await wait_on_screen(pilot, lambda: "is not taken in" in app.said.text)
        assert "show.yaml:1" in app.said.text
        assert levels_of(app)["right"] == 0.25
    app.end_draft()
