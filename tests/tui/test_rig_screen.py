"""The rig screen: addresses, a light that is found, slots and outputs."""

from __future__ import annotations

from cuedeck.clock import ManualClock
from cuedeck.player.channel.events import OutputState, Snapshot
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.rig_screen import health_lines
from tests.tui.shows import RIG, SHOTS
from tests.tui.test_app import SMALL, levels_of, lines_of, rehearsal_of, screen_of
from tests.tui.test_cues import typed

FAN = "  fan: {type: fan, address: 1.101}\n"
WITH_FAN = RIG.replace("rig:\n", "  fan:\n    channels: [{channel: speed, default: 30 %}]\nrig:\n" + FAN, 1)


def lit(app: CuedeckApp) -> list[str]:
    return [name for name, level in levels_of(app).items() if level]


async def test_a_conflict_is_said_while_the_address_is_typed_and_enter_refuses_it() -> None:
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("p", "down", "enter", "ctrl+u", "2")
        await pilot.pause()
        assert any("✗ 1.2-4 collides with 'left' (1.1-3)" in line for line in lines_of(app))
        await pilot.press("enter", "escape")
        assert str(app.draft.opened.show.rig["right"].address) == "1.11"
        await pilot.press("enter")
        await typed(pilot, "1.90")
        assert str(app.draft.opened.show.rig["right"].address) == "1.90"
        assert any("1.90-92" in line for line in lines_of(app))
        await pilot.press("enter", "enter")
        assert len(app.draft.done) == 1, "an address that stays the same is no edit"
        await pilot.press("ctrl+z")
        assert str(app.draft.opened.show.rig["right"].address) == "1.11"


async def test_a_light_is_found_alone_and_full_and_leaving_ends_that() -> None:
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("end", "p", "down", "f")
        await pilot.pause()
        assert (lit(app), levels_of(app)["right"]) == (["right"], 1.0)
        assert any("FOUND right" in line and "a lamp may be hot" in line for line in lines_of(app))
        await pilot.press("down")
        await pilot.pause()
        assert lit(app) == ["wall"]
        await pilot.press("escape")
        await pilot.pause()
        assert lit(app) == ["left", "right", "wall"]


async def test_an_edit_while_a_light_is_found_lights_no_other() -> None:
    """Not for a moment: somebody may stand at it."""
    app = screen_of(ManualClock())
    found: list[str | None] = []
    async with app.run_test(size=SMALL) as pilot:
        before = app.on_rig_screen_light_found
        app.on_rig_screen_light_found = lambda message: (found.append(message.name), before(message))[1]  # type: ignore[method-assign]
        await pilot.press("p", "down", "f", "enter")
        await typed(pilot, "1.90")
        await pilot.pause()
        assert rehearsal_of(app).found == "right"
        assert set(found) <= {"right"}
        assert lit(app) == ["right"]


async def test_what_gives_no_light_is_not_found() -> None:
    """Its neighbours are not put out for it."""
    app = screen_of(ManualClock(), SHOTS, WITH_FAN)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("end", "p", "up", "f")
        await pilot.pause()
        assert any("'fan' gives no light" in line for line in lines_of(app))
        assert lit(app) == ["left", "right", "wall"]


async def test_the_keys_of_the_rig_are_listed_there() -> None:
    app = screen_of(ManualClock())
    async with app.run_test(size=SMALL) as pilot:
        await pilot.press("p", "question_mark")
        await pilot.pause()
        assert any("on the rig" in line for line in lines_of(app))


def test_every_output_says_how_it_fares() -> None:
    outputs = (
        OutputState(name="serial:/dev/line", is_lost=True, why="it was pulled", sent=9),
        OutputState(name="sacn", refresh_hz=44.0, sent=100, missed=2),
    )
    assert health_lines(None) == ["no player yet: nothing is sent"]
    assert health_lines(Snapshot(state="holding", outputs=outputs)) == [
        "serial:/dev/line: LOST: it was pulled · 9 packets sent",
        "sacn: well, 44.0 Hz · 100 packets sent, 2 missed",
    ]
