"""The keys of the screen, by the place where they act: each with an id, what it does, and a sentence about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from textual.binding import Binding

from cuedeck.tui.selection import KeyPlace

PLAYER_ACTIONS = ("take", "hold", "stop_take", "blackout", "release", "control", "dismiss")
"""What is asked of the player."""
EDIT_ACTIONS = (
    "undo", "redo", "save", "new_cue", "new_cue_at", "renumber", "drag_cue", "drag_cue_by_seconds", "change_field",
    "type_field", "duplicate_cue", "delete_cue", "skip_cue", "nudge", "warm", "type_light", "keep", "keep_new", "drop",
)  # fmt: skip
"""What changes the show."""
MARK_ACTIONS = ("circle", "reject", "note")
"""What is written to a take."""
BLACKOUT_ACTIONS = ("blackout", "blackout_anywhere")
"""What makes the line dark: these act on every screen, whatever lies over it."""
BLACKOUT_HINT = "ctrl g black"
"""What is to be read wherever letters are typed."""
DIGITS = "1234567890"


def _key(key: str, action: str, description: str, tooltip: str, shown: str, *, priority: bool = False) -> Binding:
    name = f"cuedeck.{action.partition('(')[0].replace('_', '-')}.{key.partition(',')[0]}"
    return Binding(key, action, description, tooltip=tooltip, id=name, key_display=shown, priority=priority)


KEYS: list[Binding] = [
    _key("space", "run_or_stop", "run, stop", "run the shot from the playhead, or stop it there", "space"),
    _key("tab", "turn_place(1)", "the next place", "go on: playhead, cues, lights", "tab", priority=True),
    _key(
        "shift+tab", "turn_place(-1)", "the place before", "go back: lights, cues, playhead", "shift tab", priority=True
    ),
    _key("comma", "turn_cue(-1)", "the cue before", "go to the cue before", ","),
    _key("full_stop", "turn_cue(1)", "the cue after", "go to the cue after", "."),
    _key("g", "go_to_place", "go to a place", "type where to go: a time, or a place of an axis", "g"),
    _key("n", "new_cue", "new cue here", "add a cue at the playhead", "n"),
    _key("N", "new_cue_at", "new cue at a place", "type where a new cue starts", "N"),
    _key("l", "loop", "loop", "go round in a span: the one set with ( and ), else the cue that is on", "l"),
    _key("left_parenthesis", "begin_span", "the span begins here", "let the loop begin at the playhead", "("),
    _key("right_parenthesis", "end_span", "the span ends here", "let the loop end at the playhead", ")"),
    _key("w", "slower", "slower", "rehearse at a half, a quarter, an eighth of the speed, and at full again", "w"),
    _key("m", "turn_scale", "percent, stops, light", "show the lanes in percent, in stops or in light", "m"),
    _key("t", "take", "take", "count 3 s and take the shot; the take is logged", "t"),
    _key("h", "hold", "hold, go on", "hold the shot on the line where it is, or let it go on", "h"),
    _key("s", "stop_take", "stop the take", "stop the take, its count or the rehearsal on the line", "s"),
    _key("b", "blackout", "blackout", "black out the line, until it is released", "b", priority=True),
    _key("ctrl+g", "blackout_anywhere", "blackout", "the same, where letters are typed too", "ctrl g", priority=True),
    _key("r", "release", "release", "let go of a blackout, else a hold, else the look", "r", priority=True),
    _key("c", "control", "take over control", "take control of the player from another window", "c"),
    _key("ctrl+s", "save", "save", "write what was edited into the files of the show", "ctrl s"),
    _key("ctrl+z", "undo", "undo", "undo the last step", "ctrl z"),
    _key("ctrl+y", "redo", "do again", "do again what was undone", "ctrl y"),
    _key("u", "steps", "steps", "show every step that can be undone, and go back to one", "u"),
    _key("p", "rig", "rig", "show the patch, the slots and the outputs", "p"),
    _key("exclamation_mark", "problems", "problems", "list what is wrong with the show; enter goes to the place", "!"),
    _key("left_square_bracket", "turn_shot(-1)", "the shot before", "go to the shot before this one", "["),
    _key("right_square_bracket", "turn_shot(1)", "the shot after", "go to the shot after this one", "]"),
    _key("escape", "step_back", "back", "one step back: a notice, a light seen alone, the place", "esc"),
    _key("ctrl+p", "command_palette", "everything by name", "find any of this by its name", "ctrl p"),
    _key("question_mark", "keys", "keys", "show all keys", "?"),
    _key("q", "quit", "quit", "leave cuedeck; what is not saved is there again the next time", "q"),
    _key("ctrl+c", "quit", "quit at once", "leave cuedeck, from wherever you are", "ctrl c", priority=True),
]
"""Those that act everywhere on the main screen."""
PLACE_KEYS: Mapping[KeyPlace, Sequence[Binding]] = {
    KeyPlace.PLAYHEAD: [
        _key("enter", "fire", "fire the next operator cue", "start the cue that waits for you, while running", "enter"),
        _key("left", "step(-1)", "a frame back", "put the playhead one camera frame earlier", "←"),
        _key("right", "step(1)", "a frame on", "put the playhead one camera frame later", "→"),
        _key("shift+left", "step(-10)", "ten frames back", "put the playhead ten camera frames earlier", "shift ←"),
        _key("shift+right", "step(10)", "ten frames on", "put the playhead ten camera frames later", "shift →"),
        _key("ctrl+left", "step_seconds(-1)", "a second back", "put the playhead one second earlier", "ctrl ←"),
        _key("ctrl+right", "step_seconds(1)", "a second on", "put the playhead one second later", "ctrl →"),
        _key("home", "to_start", "to the start", "go to the start; a run from there has nothing fired", "home"),
        _key("end", "to_end", "to the end", "put the playhead at the end of the shot", "end"),
        _key("up", "scroll_lanes(-1)", "lights above", "bring the lights above into view", "↑"),
        _key("down", "scroll_lanes(1)", "lights below", "bring the lights below into view", "↓"),
        _key("o", "circle", "circle the take", "circle the last take of this shot, or take the circle off", "o"),
        _key("x", "reject", "reject the take", "reject the last take of this shot, or take that back", "x"),
        _key("y", "note", "note of the take", "write a note to the last take of this shot", "y"),
    ],
    KeyPlace.CUES: [
        _key("left", "drag_cue(-1)", "a frame earlier", "start the cue one camera frame earlier", "←"),
        _key("right", "drag_cue(1)", "a frame later", "start the cue one camera frame later", "→"),
        _key("shift+left", "drag_cue(-10)", "ten frames earlier", "start the cue ten camera frames earlier", "shift ←"),
        _key("shift+right", "drag_cue(10)", "ten frames later", "start the cue ten camera frames later", "shift →"),
        _key("ctrl+left", "drag_cue_by_seconds(-1)", "a second earlier", "start the cue one second earlier", "ctrl ←"),
        _key("ctrl+right", "drag_cue_by_seconds(1)", "a second later", "start the cue one second later", "ctrl →"),
        _key("up", "field(-1)", "the field above", "choose the field above", "↑"),
        _key("down", "field(1)", "the field below", "choose the field below", "↓"),
        _key("minus", "change_field(-1)", "less", "make the field smaller, or turn it back", "-"),
        _key("plus,equals_sign", "change_field(1)", "more", "make the field larger, or turn it on", "+"),
        _key("enter", "type_field", "type it", "type the field that is chosen", "enter"),
        _key("d", "duplicate_cue", "duplicate", "add a cue like this one, just behind it", "d"),
        _key("delete,backspace", "delete_cue", "delete", "take the cue out; undo brings it back", "del"),
        _key("x", "skip_cue", "leave out, take in", "leave the cue out of the shot, or take it in again", "x"),
        _key("R", "renumber", "renumber", "number the cues of the shot 1, 2, 3 as they start", "R"),
    ],
    KeyPlace.LIGHTS: [
        _key("up", "light(-1)", "the light above", "choose the light above", "↑"),
        _key("down", "light(1)", "the light below", "choose the light below", "↓"),
        _key("left", "nudge(-1)", "darker", "a tenth of a stop (or a percent, as the lanes show) darker", "←"),
        _key("right", "nudge(1)", "brighter", "a tenth of a stop (or a percent, as the lanes show) brighter", "→"),
        _key("shift+left", "nudge(-10)", "much darker", "a whole stop (or ten percent) darker", "shift ←"),
        _key("shift+right", "nudge(10)", "much brighter", "a whole stop (or ten percent) brighter", "shift →"),
        _key("minus", "warm(1)", "warmer", "ten mired warmer", "-"),
        _key("plus,equals_sign", "warm(-1)", "cooler", "ten mired cooler", "+"),
        _key("enter", "type_light", "type it", "type a level or a colour: 45 %, -1.5 stop, 5600 K", "enter"),
        _key("G", "group", "its group", "mean the light's group, the next one, or the light alone", "G"),
        _key("i", "alone", "alone", "see the light alone, or all again", "i"),
        _key("f", "flip", "flip", "show what is stored, or what is nudged", "f"),
        _key("k", "keep", "keep", "keep the nudges of this look in it", "k"),
        _key("K", "keep_new", "keep as a new look", "keep the nudges in a new look, for this cue alone", "K"),
        _key("backspace,delete", "drop", "drop", "drop the nudges; undo brings them back", "backspace"),
    ],
}
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
ALL_KEYS = [*KEYS, *(key for keys in PLACE_KEYS.values() for key in keys)]
PLACE_OF_ACTION: Mapping[str, KeyPlace] = {
    key.action.partition("(")[0]: place for place, keys in PLACE_KEYS.items() for key in keys
}
"""The one place in which an action can be done."""
