"""Building a shot on the screen: every job from the side of the person at the keys or the pointer."""

from __future__ import annotations

from fractions import Fraction

import pytest
from textual.pilot import Pilot

from cuedeck.clock import ManualClock
from cuedeck.show.model import Cue
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.cue_panel import CuePanel
from cuedeck.tui.selection import Field, KeyPlace
from tests.tui.shows import opened
from tests.tui.test_app import SMALL, lines_of, rehearsal_of, screen_of

SHOT_OF_TIMES = """shots:
  "1":
    title: timed
    length: 10 s
    move: {keys: [{time: 0 s, slide: 0 mm}, {time: 10 s, slide: 500 mm}], ease: linear}
    cues:
      - {cue: 1, at: 0 s, look: black}
      - {cue: 2, at: 2 s, look: edges, fade: 1 s}
      - {cue: 3, at: 100 frames, look: dusk, fade: 1 s}
      - {cue: 4, at: slide 300 mm, look: black, fade: 1 s}
"""


NAMED = {" ": "space", ":": "colon", ".": "full_stop", "-": "minus", "%": "percent_sign"}


def timed() -> CuedeckApp:
    return screen_of(ManualClock(), SHOT_OF_TIMES)


def cue(app: CuedeckApp, name: str) -> Cue:
    return next(one for one in rehearsal_of(app).plan.shot.cues if one.cue == name)


def starts(app: CuedeckApp) -> dict[str, Fraction | None]:
    return rehearsal_of(app).plan.start_times()


async def typed(pilot: Pilot[None], text: str) -> None:
    """Type into the line at the bottom, in place of what stands there."""
    await pilot.press("ctrl+u", "ctrl+k")
    await pilot.press(*(NAMED.get(character, character) for character in text))
    await pilot.press("enter")
    await pilot.pause()


async def choose(pilot: Pilot[None], name: str, field: Field = Field.STARTS) -> None:
    """Go to a cue and to a field of its card."""
    app = pilot.app
    assert isinstance(app, CuedeckApp)
    app.choose_cue(name)
    await pilot.press(*["down"] * list(Field).index(field))


async def test_tab_goes_from_the_playhead_to_the_cues_to_the_lights_and_escape_back() -> None:
    """The cue that is on at the playhead is chosen first, and its card stands beside the set."""
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+right", "ctrl+right", "ctrl+right", "tab")
        assert (app.selection.place, app.selection.cue) == (KeyPlace.CUES, "2")
        assert any("[2]" in line for line in lines_of(app))
        assert any("▸ starts  2 s" in line for line in lines_of(app))
        await pilot.press("tab")
        assert (app.selection.place, app.selection.light) == (KeyPlace.LIGHTS, "left")
        assert any("▸left" in line for line in lines_of(app))
        await pilot.press("escape")
        assert app.selection.place is KeyPlace.PLAYHEAD


@pytest.mark.parametrize(
    ("keys", "frame"),
    [(["right"], 51), (["left"], 49), (["shift+right"], 60), (["ctrl+left"], 25), (["right"] * 3 + ["left"] * 3, 50)],
)
async def test_arrows_drag_the_cue_by_frames_ten_frames_and_seconds(keys: list[str], frame: int) -> None:
    """At 25 frames a second; the file says seconds where it did."""
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "2")
        await pilot.press(*keys)
        assert starts(app)["2"] == Fraction(frame, 25)
        assert str(cue(app, "2").at).endswith(" s")


async def test_a_cue_keeps_the_kind_of_its_start() -> None:
    """Frames stay frames, and a place of the slider a place of the slider."""
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "3")
        await pilot.press("right")
        assert str(cue(app, "3").at) == "101 frames"
        await choose(pilot, "4")
        await pilot.press("right")
        assert str(cue(app, "4").at) == "slide 303 mm"
        assert any(("frame 151" in line and "6.06 s" in line) or "slide 303" in line for line in lines_of(app))


async def test_the_card_says_the_start_in_timecode_frames_seconds_and_axes_together() -> None:
    app = timed()
    async with app.run_test(size=(120, 40)) as pilot:
        await choose(pilot, "2")
        await pilot.pause()
        panel = app.query_one(CuePanel)
        assert "= 00:00:02:00 · frame 50 · 2.00 s" in panel.lines[1]
        assert "slide 100 mm" in panel.lines[1] + panel.lines[2]


async def test_a_fade_is_stretched_by_tenths_and_the_lane_is_drawn_anew() -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        before = [line for line in lines_of(app) if line.startswith(" left")]
        await choose(pilot, "2", Field.FADE)
        await pilot.press(*["plus"] * 20)
        await pilot.pause()
        assert cue(app, "2").fade.base == 3
        assert [line for line in lines_of(app) if line.startswith(" left")] != before
        await pilot.press(*["minus"] * 40)
        assert cue(app, "2").fade.base == 0


async def test_curve_and_look_are_turned_and_typed() -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "2", Field.CURVE)
        await pilot.press("plus")
        assert cue(app, "2").curve == "ease"
        await pilot.press("enter")
        await typed(pilot, "even stops")
        assert cue(app, "2").curve == "even stops"
        await pilot.press("down", "plus")
        assert cue(app, "2").look == "dusk"


async def test_a_start_is_typed_and_what_cannot_be_is_said_beside_it() -> None:
    """Nothing is lost: the text stays there to be mended, and escape leaves all as it was."""
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "2")
        await pilot.press("enter")
        await typed(pilot, "slide 9000 mm")
        assert app.prompt.is_asking
        assert any("✗ the shot never comes to slide 9000 mm" in line for line in lines_of(app))
        await typed(pilot, "with 1 wait 0.4 s")
        assert not app.prompt.is_asking
        assert (cue(app, "2").with_, str(cue(app, "2").wait)) == ("1", "0.4 s")
        await pilot.press("enter", "x", "escape")
        assert (cue(app, "2").with_, str(cue(app, "2").wait)) == ("1", "0.4 s")


async def test_a_cue_is_added_at_the_playhead_and_named_between_its_neighbours() -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("ctrl+right", "ctrl+right", "ctrl+right", "n")
        new = cue(app, "2.5")
        assert (str(new.at), new.look, app.selection.cue) == ("3 s", "edges", "2.5")
        assert [one.cue for one in rehearsal_of(app).plan.shot.cues] == ["1", "2", "2.5", "3", "4"]


@pytest.mark.parametrize("text", ["00:00:07:00", "slide 350 mm", "175 frames"])
async def test_a_cue_is_added_at_a_timecode_or_a_place_that_is_typed(text: str) -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("N")
        await typed(pilot, text)
        assert str(cue(app, "5").at) == text
        assert starts(app)["5"] == 7


async def test_a_cue_is_duplicated_left_out_renumbered_and_deleted_and_undo_brings_all_back() -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        first = app.draft.opened.show
        await choose(pilot, "2")
        await pilot.press("d")
        assert cue(app, "2.5").look == "edges"
        await pilot.press("x")
        assert cue(app, "2.5").skip
        assert "2.5" not in [one.name for one in rehearsal_of(app).timeline.cues]
        await pilot.press("R")
        assert [one.cue for one in rehearsal_of(app).plan.shot.cues] == ["1", "2", "3", "4", "5"]
        await pilot.press("delete")
        assert [one.cue for one in rehearsal_of(app).plan.shot.cues] == ["1", "2", "4", "5"]
        await pilot.press(*["ctrl+z"] * 4)
        assert app.draft.opened.show == first
        assert app.draft.is_saved
        await pilot.press("ctrl+z")
        assert app.said.text == "there is nothing to undo: ctrl y does again what was undone"
        await pilot.press(*["ctrl+y"] * 4)
        assert [one.cue for one in rehearsal_of(app).plan.shot.cues] == ["1", "2", "4", "5"]


async def test_every_step_is_named_and_holding_a_key_is_one() -> None:
    """The list goes back to any of them."""
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await choose(pilot, "2")
        await pilot.press(*["right"] * 5)
        await pilot.press("down", "plus", "plus")
        assert [step.name for step in app.draft.done] == ["move cue 2 to 2.2 s, 00:00:02:05", "fade of cue 2: 1.2 s"]
        await pilot.press("u", "down", "down", "enter")
        await pilot.pause()
        assert (str(cue(app, "2").at), str(cue(app, "2").fade)) == ("2 s", "1 s")
        assert [step.name for step in app.draft.undone] == [
            "fade of cue 2: 1.2 s",
            "move cue 2 to 2.2 s, 00:00:02:05",
        ]


async def test_comma_and_full_stop_go_from_cue_to_cue() -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("full_stop", "full_stop")
        assert rehearsal_of(app).playhead.frame == 100
        await pilot.press("comma")
        assert rehearsal_of(app).playhead.frame == 50
        await pilot.press("tab", "full_stop")
        assert (app.selection.cue, rehearsal_of(app).playhead.frame) == ("3", 100)


async def test_the_pointer_chooses_and_drags_a_cue() -> None:
    """It starts in the camera frame under the pointer where the button is let go."""
    app = timed()
    async with app.run_test(size=(120, 40)) as pilot:
        view = app.query_one("#shot")
        row = view.region.y + view.size.height - 1
        line = lines_of(app)[row]
        column = line.index("2", 20)
        await pilot.mouse_down(offset=(column, row))
        await pilot.pause()
        assert app.selection.cue == "2"
        await pilot.hover(offset=(column + 9, row))
        await pilot.mouse_up(offset=(column + 9, row))
        await pilot.pause()
        start_s = starts(app)["2"]
        assert start_s is not None
        assert 2.8 < start_s < 3.1
        assert len(app.draft.done) == 1


async def test_going_to_a_place_that_is_typed() -> None:
    app = timed()
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("g")
        await typed(pilot, "slide 250 mm")
        assert rehearsal_of(app).playhead.at_s == 5


async def test_a_loop_goes_round_in_the_cue_that_is_on() -> None:
    app = screen_of(clock := ManualClock(), SHOT_OF_TIMES)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("full_stop", "l", "space")
        clock.wait_until_ns(int(1.5e9))
        app.tick()
        assert rehearsal_of(app).playhead.at_s == Fraction(7, 2)
        clock.wait_until_ns(int(2.5e9))
        app.tick()
        app.tick()
        assert 2 <= rehearsal_of(app).playhead.at_s < 3
        await pilot.press("l")
        assert rehearsal_of(app).loop is None


async def test_a_rehearsal_runs_slower_and_a_take_at_full_speed_again() -> None:
    app = timed()
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("full_stop", "w")
        assert rehearsal_of(app).playhead.length_s == 20
        assert rehearsal_of(app).playhead.at_s == 4
        assert "speed 1/2" in lines_of(app)[0]
        await pilot.press("w", "w", "w")
        assert rehearsal_of(app).playhead.length_s == 10


async def test_a_show_without_a_shot_leads_to_the_first_cue_that_lights_something() -> None:
    """From one hint to the next, each says what to do."""
    rig = "cuedeck: 2\nrig:\n  key: {type: dimmer, address: 1.1}\n"
    app = CuedeckApp("small", opened("", rig), ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        assert "n makes one" in "\n".join(lines_of(app))
        await pilot.press("n")
        await pilot.pause()
        assert "n adds a cue there" in "\n".join(lines_of(app))
        await pilot.press("escape", "ctrl+right", "n")
        await pilot.pause()
        assert "tab goes to the lights" in "\n".join(lines_of(app))
        await pilot.press("tab", "right")
        await pilot.pause()
        assert "K makes a new look" in "\n".join(lines_of(app))
        await pilot.press("K", "enter")
        await pilot.pause()
        assert app.draft.opened.show.looks["black 2"].fixtures["key"].level is not None
        assert cue(app, "2").look == "black 2"
        assert "K makes a new look" not in "\n".join(lines_of(app))


async def test_what_is_wrong_is_listed_and_enter_goes_to_the_place() -> None:
    """Here: a fade that the next cue cuts short."""
    shots = SHOT_OF_TIMES.replace("look: edges, fade: 1 s", "look: edges, fade: 3 s").replace(
        "look: dusk", "look: edges"
    )
    app = screen_of(ManualClock(), shots)
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("exclamation_mark")
        await pilot.pause()
        assert "warning · show.yaml" in "\n".join(lines_of(app))
        await pilot.press("enter")
        await pilot.pause()
        assert (app.selection.place, app.selection.cue) == (KeyPlace.CUES, "2")
        assert rehearsal_of(app).playhead.frame == 50


async def test_the_palette_lists_every_action_of_this_place_by_name() -> None:
    app = timed()
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.press("tab")
        titles = [command.title for command in app.get_system_commands(app.screen)]
        assert "duplicate (d)" in titles
        assert "save (ctrl s)" in titles
        assert "brighter (→)" not in titles
        await pilot.press("tab")
        titles = [command.title for command in app.get_system_commands(app.screen)]
        assert "brighter (→)" in titles


async def test_enter_fires_the_cue_that_waits_wherever_keys_act() -> None:
    """Among the cues too, as soon as the shot runs; the line at the bottom names it."""
    app = screen_of(clock := ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("2", "tab", "space")
        clock.wait_until_ns(1_000_000_000)
        app.tick()
        await pilot.pause()
        assert "ENTER fires cue go, edges" in lines_of(app)[-1]
        await pilot.press("enter")
        assert [one.cue for one in rehearsal_of(app).fired] == ["go"]


async def test_looks_are_renamed_and_deleted_and_shots_added_by_name() -> None:
    """What has no key is in the palette; what uses a look keeps it from going."""
    app = timed()
    async with app.run_test(size=(120, 40)) as pilot:
        assert {"new shot", "rename a look", "delete a look"} <= {
            command.title for command in app.get_system_commands(app.screen)
        }
        app.nudge("nudge", app.draft.nudges.with_parts("edges", "left", {"level": "-1 stop"}))
        app.action_rename_look()
        await pilot.pause()
        await typed(pilot, "edges")
        await typed(pilot, "rims")
        assert cue(app, "2").look == "rims"
        assert app.draft.nudges.text_of("rims", "left") == "-1 stop"
        app.action_delete_look()
        await pilot.pause()
        await typed(pilot, "rims")
        assert any("is used by cue 2 of shot 1" in line for line in lines_of(app))
        await pilot.press("escape")
        app.action_new_shot()
        assert rehearsal_of(app).plan.name == "2"
