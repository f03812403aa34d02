"""The text of a new show: right for any names, and a shot that lights every light."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from cuedeck.rig.types import BUILT_IN
from cuedeck.show import SHOW_FILE
from cuedeck.show.channels import width_of
from cuedeck.show.model import EVERYTHING, LIKE
from cuedeck.show.schema import show_schema
from cuedeck.show.starting import NewLight, NewShow, addresses, quoted, show_text
from cuedeck.show.units import Angle, Duration, Length
from cuedeck.timeline.opening import OpenedShow, open_show
from cuedeck.timing.move_table import eased_move, recorded
from tests.show.editors import VERSIONS, as_an_editor

PRINTABLE = st.characters().filter(str.isprintable)
NAMES = st.one_of(
    st.text(PRINTABLE, min_size=1, max_size=80),
    st.text("'\"\\ :#-?!&*%@`{}[],|>~<=.0e", min_size=1, max_size=8),
    st.sampled_from(
        ["null", "~", "on", "No", "y", "1.10", "0x1", "01:00", "- a", "a: b", "a #b", "<<", "---", "2024-05-01"]
    ),
)
LIGHT_NAMES = NAMES.filter(lambda name: name not in (EVERYTHING, LIKE))
VALIDATOR = Draft202012Validator(show_schema())


def opened(new: NewShow) -> OpenedShow:
    files = {SHOW_FILE: show_text(new)}
    for axis in new.reaches:
        files.setdefault(f"moves/{axis}.csv", recorded(eased_move(dict(new.reaches), new.length.base)))
    return open_show(lambda name: files[name].encode())


def new_show(
    names: list[str],
    *,
    title: str = "bottle",
    kind: str = "two-tone 16-bit",
    seconds: Fraction = Fraction(4),
    **reaches: Length | Angle,
) -> NewShow:
    lights = [NewLight(name, kind, BUILT_IN[kind]) for name in names]
    return NewShow(title, "25", 50, lights, reaches, Duration(seconds, "s"))


@given(NAMES)
def test_any_printable_name_comes_back_from_yaml_as_it_was(name: str) -> None:
    text = f"{{{quoted(name)}: {quoted(name)}}}"
    assert yaml.safe_load(text) == {name: name}
    for version in VERSIONS:
        assert as_an_editor(text, version) == {name: name}


@given(NAMES, st.lists(LIGHT_NAMES, unique=True, min_size=1, max_size=4))
def test_a_new_show_keeps_its_names_and_has_no_problem(title: str, names: list[str]) -> None:
    new = new_show(names, title=title, slide=Length(Fraction(340), "mm"))
    show = opened(new)
    assert show.problems == ()
    assert (show.show.title, list(show.show.rig)) == (title, names)
    assert [*VALIDATOR.iter_errors(as_an_editor(show_text(new), "YAML 1.2"))] == []


@pytest.mark.parametrize("kind", BUILT_IN)
def test_a_light_of_any_built_in_type_gives_light_in_the_look_lit_and_none_in_black(kind: str) -> None:
    show = opened(new_show(["key"], kind=kind, slide=Length(Fraction(340), "mm")))
    assert show.problems == ()
    timeline = show.plan("1").timeline()
    slots = timeline.slots(range(timeline.packet_count))
    first = slots[:, 0, 0]  # the coarse byte of an intensity or of red
    assert (first[0], first[-1]) == (0, 0)
    assert first.max() > 100


@given(
    st.integers(50, 4000).map(lambda hundredths: Fraction(hundredths, 100)),
    st.sampled_from([None, *(Length(Fraction(n), unit) for n, unit in ((1, "mm"), (-340, "mm"), (100, "m")))]),
    st.sampled_from([None, *(Angle(Fraction(n), "deg") for n in (1, -90, 3600))]),
)
def test_the_light_keeps_to_the_move_however_far_and_long_it_is(
    seconds: Fraction, slide: Length | None, turn: Angle | None
) -> None:
    reaches = {axis: reach for axis, reach in (("slide", slide), ("turn", turn)) if reach is not None}
    show = opened(new_show(["key"], seconds=seconds, **reaches))
    assert [problem for problem in show.problems if "of shot 1 reaches" not in problem.what] == []
    starts = [float(cue.start_s) for cue in show.plan("1").timeline().cues]
    assert starts == sorted(starts)
    assert 0 < starts[1] < starts[2] < float(seconds)
    assert show.plan("1").timeline().length_s == pytest.approx(float(seconds))


@given(st.lists(st.integers(1, 512), min_size=1, max_size=200))
def test_no_two_lights_share_a_slot_and_none_leaves_its_universe(widths: list[int]) -> None:
    taken: set[tuple[int, int]] = set()
    for start, width in zip(addresses(widths), widths, strict=True):
        slots = {(start.universe, slot) for slot in range(start.slot, start.slot + width)}
        assert start.slot + width - 1 <= 512
        assert not slots & taken
        taken |= slots


def test_small_lights_start_ten_slots_apart() -> None:
    kinds = ["dimmer", "two-tone 16-bit", "rgbww 16-bit", "dimmer"]
    starts = addresses([width_of(BUILT_IN[kind].channels or []) for kind in kinds])
    assert [str(start) for start in starts] == ["1.1", "1.11", "1.21", "1.31"]


def test_a_recording_has_a_hundred_lines_a_second_and_ends_where_the_move_ends() -> None:
    text = recorded(eased_move({"slide": Length(Fraction(340), "mm")}, Fraction("1.005")))
    header, *lines = text.splitlines()
    assert header == "time s,slide mm"
    assert (lines[0], lines[1].split(",")[0], lines[-1]) == ("0.0,0.000", "0.01", "1.005,340.000")
    assert len(lines) == 102


def test_an_eased_recording_is_the_minimum_jerk_profile() -> None:
    """10 s^3 - 15 s^4 + 6 s^5: half way at half time, peak rate 15/8 (minimum-jerk literature, from memory)."""
    lines = recorded(eased_move({"turn": Angle(Fraction(-90), "deg")}, Fraction(2))).splitlines()[1:]
    positions = np.array([float(line.split(",")[1]) for line in lines])
    assert positions[100] == -45
    assert np.abs(np.diff(positions)).max() * 100 == pytest.approx(90 / 2 * 15 / 8, rel=1e-3)
