"""Dialling in light on the screen: nudge, see alone, flip, keep, drop, type."""

from __future__ import annotations

from cuedeck.clock import ManualClock
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.selection import KeyPlace
from tests.tui.shows import RIG, SHOTS
from tests.tui.test_app import SMALL, levels_of, lines_of, rehearsal_of, screen_of
from tests.tui.test_cues import typed

GROUPS = "groups:\n  pair: [left, right]\n"


def lit() -> CuedeckApp:
    """A shot whose left light is full and whose right one is at 50 %, from 3 s on."""
    return screen_of(ManualClock(), SHOTS, RIG + GROUPS)


def to_lights(app: CuedeckApp, light: str = "right") -> None:
    app.go_to(rehearsal_of(app).playhead.length_s)
    app.choose_light(light)


async def test_arrows_nudge_in_percent_and_the_simulator_follows_at_once() -> None:
    """The look is as it was; the lane is drawn anew."""
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        lane = next(line for line in lines_of(app) if "right" in line)
        await pilot.press("right", "right", "shift+right")
        assert levels_of(app)["right"] == 0.62
        assert str(app.draft.opened.show.looks["edges"].fixtures["right"].level) == "50 %"
        await pilot.pause()
        assert next(line for line in lines_of(app) if "▸right" in line)[20:] != lane[20:]
        assert any("nudged  to 62 %" in line for line in lines_of(app))


async def test_where_the_lanes_show_stops_a_nudge_is_a_tenth_of_a_stop() -> None:
    """Half the light of full is one stop under it (a stop is a factor of two of light)."""
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("m")
        assert any("-1.0" in line for line in lines_of(app) if "right" in line)
        await pilot.press("left")
        assert app.draft.nudges.text_of("edges", "right") == "-1.1 stop"
        assert levels_of(app)["right"] == round(2**-1.1, 2)
        await pilot.press("shift+left", "shift+left")
        assert app.draft.nudges.text_of("edges", "right") == "-3.1 stop"


async def test_a_light_that_is_out_comes_up_and_goes_out_again() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app, "rider")
        await pilot.press("m", "right")
        assert app.draft.nudges.text_of("black", "rider") == "-8 stop"
        await pilot.press("left")
        assert app.draft.nudges.text_of("black", "rider") == "out"


async def test_colour_is_nudged_by_ten_mired() -> None:
    """5600 K are 178.6 mired (10^6 over kelvin); ten warmer are 188.6, which is 5303 K."""
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("minus")
        assert app.draft.nudges.text_of("edges", "right") == "5303 K"
        await pilot.press("plus")
        assert app.draft.nudges.text_of("edges", "right") == "5600 K"


async def test_a_group_is_nudged_each_light_from_where_it_is() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("G", "shift+left")
        assert (levels_of(app)["left"], levels_of(app)["right"]) == (0.9, 0.4)
        assert app.draft.done[-1].name == "nudge pair to 90 % in look edges"


async def test_a_value_is_typed_for_light_and_colour() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("enter")
        await typed(pilot, "-2 stop 3200 K")
        assert levels_of(app)["right"] == 0.25
        assert app.draft.nudges.text_of("edges", "right") == "-2 stop 3200 K"
        await pilot.press("enter")
        await typed(pilot, "45")
        assert app.prompt.is_asking
        assert any("✗" in line for line in lines_of(app))


async def test_it_is_seen_alone_and_escape_brings_the_others_back() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("i")
        assert {name: level for name, level in levels_of(app).items() if level} == {"right": 0.5}
        await pilot.press("up")
        assert {name: level for name, level in levels_of(app).items() if level} == {"left": 1.0}
        await pilot.press("escape")
        assert levels_of(app)["wall"] == 0.4
        assert app.selection.place is KeyPlace.LIGHTS


async def test_flip_shows_what_is_stored_and_what_is_nudged() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("shift+right", "f")
        assert levels_of(app)["right"] == 0.5
        assert any("FLIPPED" in line for line in lines_of(app))
        await pilot.press("f")
        assert levels_of(app)["right"] == 0.6


async def test_a_nudge_is_kept_in_the_look_with_the_smallest_change() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("right", "k")
        assert not app.draft.nudges
        assert app.draft.opened.source.node(("looks", "edges")) == {"left": "full", "right": "51 %"}
        assert "kept in look edges" in app.said.text
        await pilot.press("ctrl+z")
        assert app.draft.nudges.text_of("edges", "right") == "51 %"
        await pilot.press("ctrl+z")
        assert not app.draft.nudges
        assert levels_of(app)["right"] == 0.5


async def test_a_nudge_is_kept_in_a_new_look_for_this_cue_alone() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("right", "K", "enter")
        await pilot.pause()
        assert app.draft.opened.source.node(("looks", "edges 2")) == {"left": "full", "right": "51 %"}
        assert app.draft.opened.source.node(("looks", "edges")) == {"left": "full", "right": "50 %"}
        looks = [cue.look for cue in rehearsal_of(app).plan.shot.cues]
        assert looks == ["black", "edges 2", "dusk"]
        assert levels_of(app)["right"] == 0.51


async def test_a_nudge_is_dropped_and_undo_brings_it_back() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("right", "backspace")
        assert levels_of(app)["right"] == 0.5
        await pilot.press("ctrl+z")
        assert levels_of(app)["right"] == 0.51


async def test_escape_from_the_lights_keeps_the_nudge() -> None:
    """It goes one step back, and loses nothing."""
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("right", "escape")
        assert app.selection.place is KeyPlace.PLAYHEAD
        assert app.draft.nudges.text_of("edges", "right") == "51 %"


async def test_the_pointer_chooses_a_light_on_the_lanes_and_on_the_set() -> None:
    app = lit()
    async with app.run_test(size=(120, 40)) as pilot:
        rows = lines_of(app)
        row = next(y for y, line in enumerate(rows) if line.startswith(" wall"))
        await pilot.click(offset=(3, row))
        assert app.selection.light == "wall"
        places = app._set._cells["left"]
        region = app._set.region
        await pilot.click(offset=(region.x + 1 + places.column, region.y + 1 + places.line))
        assert app.selection.light == "left"


async def test_a_take_waits_until_the_nudge_is_kept_or_dropped() -> None:
    app = lit()
    async with app.run_test(size=SMALL) as pilot:
        to_lights(app)
        await pilot.press("right")
        app.action_take()
        assert "k keeps it, backspace drops it; then t" in app.said.text
