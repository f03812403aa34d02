"""An error stops only the shots whose light it may change: what still runs, runs as if the error were not there."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import numpy as np
import pytest
import yaml

from cuedeck.errors import Refusal
from cuedeck.show import SHOW_FILE
from cuedeck.timeline.choosing import other_errors, plan_of, require_sound, sound_plan_of
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timeline.plan import FiredCue
from tests.show.mutations import WHOLE, Files
from tests.tools import times

SHOW = """\
cuedeck: 2
slots: 24
refresh: 40 Hz
types:
  panel: {channels: [intensity, colour temperature], colour temperature: {low: 2500 K, high: 5000 K}}
rig:
  key: {type: dimmer, address: 1.1}
  rim: {type: panel, address: 1.2}
groups:
  pair: [key, rim]
looks:
  black: {everything: out}
  one: {key: full}
  two: {pair: full}
  three: {like: two, rim: {colour: 3000 K}}
shots:
  "1": {cues: [{cue: 1, at: 0 s, look: one}, {cue: 2, after: 1, look: black}]}
  "2": {cues: [{cue: 1, at: 0 s, look: two}]}
  "3": {move: moves/a.csv, cues: [{cue: 1, at: 0 s, look: three}]}
  "4": {move: moves/a.csv, cues: [{cue: 1, at: slide 60 mm, look: one}]}
"""
MOVE = b"time s,slide mm\n0,0\n2,120\n"


def opened(old: str = "", new: str = "", **files: bytes) -> OpenedShow:
    assert old in SHOW
    show = {SHOW_FILE: SHOW.replace(old, new, 1).encode(), "moves/a.csv": MOVE, **files}
    return open_show(lambda name: show[name] if name in show else _missing(name))


def _missing(name: str) -> bytes:
    raise FileNotFoundError(2, "No such file or directory", name)


ALL = ("1", "2", "3", "4")


@pytest.mark.parametrize(
    ("old", "new", "stopped"),
    [
        # What stands in one shot.
        ("cue: 1, at: 0 s, look: two", "cue: 1, at: 0 furlongs, look: two", "2"),
        ("cue: 1, at: 0 s, look: two", "cue: 1, at: 0 s, look: twelve", "2"),
        ("cue: 1, at: 0 s, look: two", "cue: 1, at: 0 s, look: two, glow: 3", "2"),
        ("cue: 1, at: 0 s, look: two", "cue: 1, look: two", "2"),
        ('"2": {cues:', '"2": {length: soon, cues:', "2"),
        ("after: 1, look: black", "after: 9, look: black", "1"),
        ("after: 1, look: black", "after: 2, look: black", "1"),
        ("slide 60 mm", "slide 600 mm", "4"),
        ('"2": {cues: [{cue: 1, at: 0 s, look: two}]}', '"2": 12', "2"),
        # The name of a shot is what is wrong: it cannot be read at all.
        ('"2": {', f'"{"2" * 90}": {{', "2" * 90),
        # A look, with those like it, in every shot that goes to one of them.
        ("one: {key: full}", "one: {key: bright}", "14"),
        ("one: {key: full}", "one: {kez: full}", "14"),
        ("one: {key: full}", "one: [key]", "14"),
        ("two: {pair: full}", "two: {pair: {level: full, gobo: 3}}", "23"),
        ("three: {like: two", "three: {like: too", "3"),
        ("three: {like: two", "three: {like: three", "3"),
        ("two: {pair", "two: {like: three, pair", "23"),
        ("black: {everything: out}", "black: {everything: off}", "1"),
        # A group, in every shot that has a look which names it.
        ("pair: [key, rim]", "pair: [key, rum]", "23"),
        ("pair: [key, rim]", "pair: key", "23"),
        # What belongs to all.
        ("key: {type: dimmer, address: 1.1}", "key: {type: dimmer, address: 1.2}", "1234"),
        ("key: {type: dimmer", "key: {type: dimer", "1234"),
        ("channels: [intensity, colour temperature]", "channels: [intensity, colour]", "1234"),
        ("refresh: 40 Hz", "refresh: 4000 Hz", "1234"),
        ("slots: 24", "slots: 24\ncamera: {fps: many}", "1234"),
        ("slots: 24", "slots: 24\nwhatever: 3", "1234"),
        ("slots: 24", "slots: 24\ninclude: not-there.yaml", "1234"),
        ("looks:", "look:", "1234"),
    ],
)
def test_an_error_stops_the_shots_that_it_concerns(old: str, new: str, stopped: str) -> None:
    found = opened(old, new)
    assert found.errors
    expected = (stopped,) if len(stopped) > len(ALL) else tuple(stopped)
    assert tuple(dict.fromkeys(found.shots_with_errors)) == expected
    for shot in (*ALL, *expected):
        if shot in expected:
            with pytest.raises(Refusal, match="error"):
                sound_plan_of(found, shot)
        elif shot in found.show.shots:
            assert sound_plan_of(found, shot).errors == ()


def test_a_broken_move_stops_every_shot_that_it_belongs_to_and_is_told_once() -> None:
    found = opened(**{"moves/a.csv": b"time s,slide mm\n0,0\n0,120\n"})
    assert found.shots_with_errors == ("3", "4")
    assert [str(one.place) for one in found.errors] == ["moves/a.csv:3:1"]
    with pytest.raises(Refusal, match="the time goes back"):
        sound_plan_of(found, "4")


def test_a_broken_value_that_stands_for_two_shots_stops_both() -> None:
    found = opened(
        '"2": {cues: [{cue: 1, at: 0 s, look: two}]}',
        '"2": {cues: &c [{cue: 1, at: soon, look: two}]}\n  "5": {cues: *c}',
    )
    assert found.shots_with_errors == ("2", "5")
    assert len(found.errors) == 1


def test_a_look_of_an_included_file_stops_its_shots_alone_and_a_file_that_is_not_read_stops_all() -> None:
    for text, stopped in ((b"looks: {four: {key: bright}}", ("5",)), (b"looks: {four: {}, four: {}}", (*ALL, "5"))):
        shot = 'include: more.yaml\nshots:\n  "5": {cues: [{cue: 1, at: 0 s, look: four}]}'
        assert set(opened("shots:", shot, **{"more.yaml": text}).shots_with_errors) == set(stopped)


def test_more_errors_than_are_told_stop_every_shot() -> None:
    looks = "".join(f"  look {number}: {{kez: full}}\n" for number in range(300))
    assert opened("shots:", f"{looks}shots:").shots_with_errors == ALL


def test_the_only_shot_is_not_the_only_one_that_could_be_read() -> None:
    text = SHOW[: SHOW.index("shots:")] + 'shots:\n  "1": {cues: [{cue: 1, at: 0 s, look: one}]}\n  "2": 12\n'
    found = open_show({SHOW_FILE: text.encode()}.__getitem__)
    with pytest.raises(Refusal, match="which shot"):
        sound_plan_of(found, None)
    with pytest.raises(Refusal, match="an error in shot 2"):
        plan_of(found, "2")


def test_what_is_wrong_with_other_shots_is_said_in_a_line() -> None:
    found = opened("look: two", "look: twelve")
    require_sound(found)
    assert other_errors(found, "1") == "shot 2 has errors and cannot run: 'cuedeck check' says which"
    assert other_errors(found, "2") == ""
    assert other_errors(opened(), "1") == ""
    unused = opened("three: {", "spare: {kez: full}\n  three: {")
    assert other_errors(unused, "1") == "there are errors in what no shot uses: 'cuedeck check' says which"


# --- each value of two whole shows, broken ---------------------------------------------------------------------------


def _nodes(node: yaml.Node) -> Iterator[yaml.ScalarNode]:
    if isinstance(node, yaml.ScalarNode):
        yield node
    elif isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield key
            yield from _nodes(value)
    elif isinstance(node, yaml.SequenceNode):
        for value in node.value:
            yield from _nodes(value)


def _broken(files: Files) -> Iterator[tuple[str, Files]]:
    """Yield the files with one key or value of them made nonsense, for each there is."""
    for name in (name for name in files if name.endswith(".yaml")):
        root = yaml.compose(files[name], Loader=yaml.CSafeLoader)
        for node in list(_nodes(root)):
            was, node.value = node.value, "nonsense"
            broken: str = yaml.serialize(root, Dumper=yaml.CSafeDumper, allow_unicode=True, width=10_000)
            yield f"{name}: {was}", {**files, name: broken.encode()}
            node.value = was


def _packets(show: OpenedShow, shot: str) -> bytes:
    plan = show.plan(shot)
    timeline = plan.timeline([FiredCue(cue, 7) for cue in plan.operator_cues])
    return timeline.slots(np.linspace(0, timeline.packet_count - 1, 40).astype(int).tolist()).tobytes()


@pytest.mark.parametrize("files", WHOLE, ids=["demo", "every key"])
def test_a_shot_that_runs_beside_an_error_gives_the_light_it_gave_before(files: Files) -> None:
    whole = open_show(files.__getitem__)
    light = {shot: _packets(whole, shot) for shot in whole.show.shots}
    with_errors = run = 0
    for what, broken in islice(_broken(files), 0, None, max(1, 2 // times(1))):
        found = open_show(lambda name, broken=broken: broken[name] if name in broken else _missing(name))
        if not found.errors:
            continue  # a title, or another word that may stand there
        with_errors += 1
        for shot in set(found.show.shots) & set(light) - set(found.shots_with_errors):
            run += 1
            assert _packets(found, shot) == light[shot], f"{what}: shot {shot} runs, and its light is another"
    assert with_errors > 100
    assert run > 50, "nothing runs beside an error"
