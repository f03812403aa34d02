"""The keys of the screen: each with an id, what it does, and a sentence about it."""

from __future__ import annotations

from textual.binding import Binding

PLAYER_ACTIONS = ("take", "hold", "stop_take", "blackout", "release", "control", "dismiss")
"""What is asked of the player."""
DIGITS = "1234567890"


def _key(key: str, action: str, description: str, tooltip: str, shown: str, *, priority: bool = False) -> Binding:
    name = f"cuedeck.{action.partition('(')[0].replace('_', '-')}.{key.partition(',')[0]}"
    return Binding(key, action, description, tooltip=tooltip, id=name, key_display=shown, priority=priority)


KEYS: list[Binding] = [
    _key("space", "run_or_stop", "run, stop", "run the shot from the playhead, or stop it there", "space"),
    _key("enter", "fire", "fire the next operator cue", "start the cue that waits for you, while running", "enter"),
    _key("t", "take", "take", "count 3 s and take the shot; the take is logged", "t"),
    _key("h", "hold", "hold, go on", "hold the shot on the line where it is, or let it go on", "h"),
    _key("s", "stop_take", "stop the take", "stop the take, its count or the rehearsal on the line", "s"),
    _key("b", "blackout", "blackout", "black out the line, until it is released", "b"),
    _key("r", "release", "release", "let go of a blackout, else a hold, else the look", "r"),
    _key("c", "control", "take over control", "take control of the player from another window", "c"),
    _key("escape", "dismiss", "dismiss the notice", "put away the notice at the top", "esc"),
    _key("left", "step(-1)", "a frame back", "put the playhead one camera frame earlier", "←"),
    _key("right", "step(1)", "a frame on", "put the playhead one camera frame later", "→"),
    _key("shift+left", "step(-10)", "ten frames back", "put the playhead ten camera frames earlier", "shift ←"),
    _key("shift+right", "step(10)", "ten frames on", "put the playhead ten camera frames later", "shift →"),
    _key("home", "to_start", "to the start", "go to the start; a run from there has nothing fired", "home"),
    _key("end", "to_end", "to the end", "put the playhead at the end of the shot", "end"),
    _key("left_square_bracket", "turn_shot(-1)", "the shot before", "go to the shot before this one", "["),
    _key("right_square_bracket", "turn_shot(1)", "the shot after", "go to the shot after this one", "]"),
    _key("up", "scroll_lanes(-1)", "lights above", "bring the lights above into view", "↑"),
    _key("down", "scroll_lanes(1)", "lights below", "bring the lights below into view", "↓"),
    _key("question_mark", "keys", "keys", "show all keys", "?"),
    _key("q", "quit", "quit", "leave cuedeck", "q"),
    _key("ctrl+c", "quit", "quit at once", "leave cuedeck, from wherever you are", "ctrl c", priority=True),
]
SHOT_KEYS: list[Binding] = [
    Binding(
        digit,
        f"show_shot('{digit}')",
        f"shot {digit}",
        tooltip=f"go to shot {digit}",
        id=f"cuedeck.show-shot.{digit}",
        show=False,
    )
    for digit in DIGITS
]
