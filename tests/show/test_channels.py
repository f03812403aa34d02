"""Channels and the values that looks give them: what is read, and what is refused where."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.channels import Channel, ChannelValue, Range, parse_channel_value
from cuedeck.show.load import load_show
from cuedeck.show.units import Percent, UnitError


def channel(**keys: object) -> Channel:
    return Channel.model_validate(keys)


def faults(channels: str) -> list[tuple[str, str, str]]:
    """Return place, words and cure of the problems of a type with these channels; they begin at column 24."""
    loaded = load_show(f"cuedeck: 1\ntypes: {{t: {{channels: [{channels}]}}}}\n".encode())
    return [(f"{one.place.line}:{one.place.column}", one.what, one.cure) for one in sorted(loaded.problems)]


@pytest.mark.parametrize(
    ("words", "attribute", "width", "is_inverted"),
    [
        ("intensity", "intensity", 1, False),
        ("intensity 8-bit", "intensity", 1, False),
        ("intensity 16-bit", "intensity", 2, False),
        ("colour temperature 24-bit", "colour temperature", 3, False),
        ("  warm   white  16-bit  inverted ", "warm white", 2, True),
        ("y inverted", "y", 1, True),
    ],
)
def test_a_known_channel_is_read_from_its_words(words: str, attribute: str, width: int, is_inverted: bool) -> None:
    read = Channel.model_validate(words)
    assert (read.attribute, read.width_slots, read.channel.is_inverted) == (attribute, width, is_inverted)


def test_a_fixed_slot_sets_nothing() -> None:
    read = Channel.model_validate("fixed 17")
    assert (read.attribute, read.width_slots, read.channel.fixed_value) == (None, 1, 17)


def test_a_channel_of_the_lights_own_needs_the_long_form_so_that_a_slip_is_noticed() -> None:
    assert faults("intensity, {channel: strobe, default: 0 %}") == []
    (found,) = faults("intensity, strobe")
    assert found == (
        "2:35",
        "'strobe' is not a channel that cuedeck knows",
        "write one of intensity, colour temperature, red, green, blue, white, amber, lime, cyan, violet, warm white,"
        " cool white, hue, saturation, x, y, or 'fixed 0' to hold a slot; or, for a channel of the light's own,"
        " {channel: strobe, default: 0 %}",
    )


@pytest.mark.parametrize(
    ("channels", "place", "what", "cure"),
    [
        (
            "intensty",
            "2:24",
            "'intensty' is not a channel that cuedeck knows",
            "write 'intensity'; or, for a channel of the light's own, {channel: intensty, default: 0 %}",
        ),
        (
            "intensity 32-bit",
            "2:24",
            "the width in 'intensity 32-bit' is not known",
            "write 8-bit, 16-bit or 24-bit",
        ),
        (
            "Intensity 16-bit",
            "2:24",
            "'Intensity 16-bit' is not a channel that cuedeck knows",
            "write 'intensity 16-bit'; or, for a channel of the light's own, {channel: Intensity 16-bit, default: 0 %}",
        ),
        (
            "reed  24-bit inverted",
            "2:24",
            "'reed  24-bit inverted' is not a channel that cuedeck knows",
            "write 'red 24-bit inverted'; or, for a channel of the light's own,"
            " {channel: reed 24-bit inverted, default: 0 %}",
        ),
        ("red 16bit", "2:24", "the width in 'red 16bit' is not known", "write 'red 16-bit'"),
        (
            "Red 16 bit inverted",
            "2:24",
            "the width in 'Red 16 bit inverted' is not known",
            "write 'red 16-bit inverted'",
        ),
        (
            "intensity, {channel: fan 16bits}",
            "2:45",
            "the width in 'fan 16bits' is not known",
            "write 'fan 16-bit'",
        ),
        (
            "intensity inverted 16-bit",
            "2:24",
            "'intensity inverted 16-bit' is out of order",
            "write the name, then one width, then inverted",
        ),
        (
            "intensity, {channel: fan 8-bit 16-bit}",
            "2:45",
            "'fan 8-bit 16-bit' is out of order",
            "write the name, then one width, then inverted",
        ),
        ("fixed 256", "2:24", "'256' is not a slot value", "write a whole number from 0 to 255"),
        ("fixed -1", "2:24", "'-1' is not a slot value", "write a whole number from 0 to 255"),
        ("fixed 1e1", "2:24", "'1e1' is not a slot value", "write a whole number from 0 to 255"),
        ("fixed \u0663", "2:24", "'\u0663' is not a slot value", "write a whole number from 0 to 255"),
        (f"fixed {'9' * 9000}", "2:24", f"'{'9' * 37}...' is not a slot value", "write a whole number from 0 to 255"),
        (
            "intensity, {channel: level}",
            "2:45",
            "a channel cannot be called 'level': looks use that word",
            "give it another name",
        ),
        (
            "intensity, {channel: colour 16-bit}",
            "2:45",
            "a channel cannot be called 'colour': looks use that word",
            "give it another name",
        ),
        (
            f"intensity, {{channel: {'f' * 81}}}",
            "2:45",
            "a channel needs a name of 1 to 80 characters",
            "write a name such as strobe",
        ),
        (
            "intensity, {channel: [a]}",
            "2:45",
            "a channel is expected here",
            "write a channel such as intensity 16-bit or strobe",
        ),
        (
            "intensity, {channel: fixed 0, default: 5 %}",
            "2:35",
            "a fixed slot has no default, ranges or snap",
            "take them out, or name the channel",
        ),
        (
            "intensity, {channel: strobe, snap: begin}",
            "2:59",
            "'snap' does not know this word",
            "write 'start', 'middle', 'end' or 'never'",
        ),
        (
            "intensity, {channel: strobe, ranges: {open: 10-0}}",
            "2:68",
            "'10-0' runs backwards",
            "write 0-10",
        ),
        (
            "intensity, {channel: strobe, ranges: {open: 0-256}}",
            "2:68",
            "'0-256' is not a range of values",
            "write values from 0 to 255 such as 0-10, or a single value",
        ),
        (
            "intensity, {channel: strobe, ranges: {open: }}",
            "2:68",
            "'open' is empty",
            "write a range of values such as 0-10",
        ),
        (
            "intensity, {channel: strobe, ranges: {open: 0-10, slow: 10-99, fast: 100-255}}",
            "2:35",
            "the ranges 'open' and 'slow' both hold 10",
            "look up in the manual where each begins and ends, so that they do not overlap",
        ),
        (
            "intensity, {channel: strobe, ranges: {any: 0-255, closed: 7}}",
            "2:35",
            "the ranges 'any' and 'closed' both hold 7",
            "look up in the manual where each begins and ends, so that they do not overlap",
        ),
        (
            "intensity, {channel: strobe, ranges: {50 %: 0-10}}",
            "2:35",
            "a range cannot be called '50 %'",
            "give it a name with a word in it",
        ),
        (
            "intensity, {channel: strobe, ranges: {open: 0-10}, default: opn}",
            "2:35",
            "the channel 'strobe' has no range 'opn'",
            "write 'open'",
        ),
        (
            "intensity, {channel: strobe, default: open}",
            "2:35",
            "the channel 'strobe' has no range 'open'",
            "write a percentage, or give the channel ranges",
        ),
        ("intensity, {chanel: strobe}", "2:36", "unknown key 'chanel'", "write 'channel'"),
    ],
)
def test_a_channel_that_will_not_do_is_refused_where_it_stands(channels: str, place: str, what: str, cure: str) -> None:
    assert faults(channels) == [(place, what, cure)]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("45 %", ChannelValue(share=Percent.of(Fraction(45, 100)))),
        ("45%", ChannelValue(share=Percent.of(Fraction(45, 100)))),
        ("1/2 %", ChannelValue(share=Percent.of(Fraction(1, 200)))),
        ("value 0", ChannelValue(value=0)),
        ("value  255", ChannelValue(value=255)),
        ("open", ChannelValue(range_name="open")),
        ("slow  to fast", ChannelValue(range_name="slow to fast")),
        ("slow to fast 40 %", ChannelValue(range_name="slow to fast", share=Percent.of(Fraction(40, 100)))),
        ("slow to fast 40%", ChannelValue(range_name="slow to fast", share=Percent.of(Fraction(40, 100)))),
        ("gobo 3", ChannelValue(range_name="gobo 3")),
    ],
)
def test_what_a_look_gives_a_channel_is_read(text: str, value: ChannelValue) -> None:
    assert parse_channel_value(text) == value


VALUE_CURE = "write a percentage such as 45 %, the name of a range, or 'value 0' to 'value 255'"


@pytest.mark.parametrize(
    ("text", "what", "cure"),
    [
        ("45", "'45' has no unit", VALUE_CURE),
        ("", "'' is not a percentage", VALUE_CURE),
        ("101 %", "101 % is out of range", "write a percentage of at most 100 %"),
        ("-1 %", "-1 % is out of range", "write a percentage of at least 0 %"),
        ("open 101 %", "101 % is out of range", "write a percentage of at most 100 %"),
        ("value 256", "'256' is not a slot value", "write a whole number from 0 to 255"),
        ("value 1e2", "'1e2' is not a slot value", "write a whole number from 0 to 255"),
        ("value nan", "'nan' is not a slot value", "write a whole number from 0 to 255"),
        ("9" * 200_000, f"'{'9' * 37}...' is no unit for a percentage", VALUE_CURE),
    ],
)
def test_a_value_that_no_channel_can_have_is_refused(text: str, what: str, cure: str) -> None:
    with pytest.raises(UnitError) as refused:
        parse_channel_value(text)
    assert (refused.value.what, refused.value.cure) == (what, cure)


@pytest.mark.parametrize("text", ["a " * 100_000, "a " + "1" * 200_000, "a" + " 1" * 100_000 + " x", "%" * 200_000])
def test_a_very_long_value_is_read_in_a_time_that_grows_only_with_its_length(text: str) -> None:
    assert parse_channel_value(text).range_name == " ".join(text.split())


STROBE = channel(channel="strobe", ranges={"open": "0-10", "slow to fast": "12-255", "closed": "11"})


@pytest.mark.parametrize(
    ("text", "slot"),
    [
        ("open", 5),
        ("slow to fast", 134),  # 133.5: halves go up
        ("closed", 11),
        ("slow to fast 0 %", 12),
        ("slow to fast 100 %", 255),
        ("slow to fast 50 %", 134),
        ("slow to fast 40 %", 109),  # 109.2
        ("open 99 %", 10),
        ("open 94 %", 9),
        ("value 37", 37),
        ("0 %", 0),
        ("100 %", 255),
    ],
)
def test_the_name_of_a_range_is_its_middle_and_a_share_lies_so_far_into_it(text: str, slot: int) -> None:
    assert STROBE.position(parse_channel_value(text)) * 255 == pytest.approx(slot)


def test_a_share_of_a_range_is_the_nearest_value_to_it() -> None:
    # 11 + 0.4 x 244 = 108.6.
    strobe = channel(channel="strobe", ranges={"slow to fast": "11-255"})
    assert strobe.position(parse_channel_value("slow to fast 40 %")) * 255 == pytest.approx(109)


def test_on_an_inverted_channel_values_and_ranges_are_still_what_the_line_carries() -> None:
    # The line carries 255 less what the channel is set to, so that 'value 37' is set to 218.
    inverted = channel(channel="strobe inverted", ranges={"open": "0-10"})
    assert inverted.position(parse_channel_value("value 37")) * 255 == pytest.approx(218)
    assert inverted.position(parse_channel_value("open")) * 255 == pytest.approx(250)
    assert inverted.position(parse_channel_value("40 %")) == pytest.approx(0.4)


@given(st.integers(0, 255), st.integers(0, 255), st.fractions(0, 1, max_denominator=1000))
def test_a_share_of_a_range_never_leaves_it(one: int, other: int, share: Fraction) -> None:
    first, last = sorted((one, other))
    ranged = channel(channel="strobe", ranges={"r": f"{first}-{last}"})
    position = ranged.position(ChannelValue(share=Percent.of(share), range_name="r"))
    assert first - 1e-9 <= position * 255 <= last + 1e-9


@given(st.integers(0, 255), st.integers(0, 255))
def test_a_range_is_read_from_its_ends_or_from_one_value(one: int, other: int) -> None:
    first, last = sorted((one, other))
    assert channel(channel="strobe", ranges={"r": f"{first} - {last}"}).ranges == {"r": Range(first, last)}
    assert channel(channel="strobe", ranges={"one": f"{first}"}).ranges == {"one": Range(first, first)}


@pytest.mark.parametrize(
    ("keys", "share"),
    [
        ({}, None),
        ({"ranges": {"open": "0-10"}}, 0),
        ({"ranges": {"open": "0-10"}, "snap": "end"}, 1),
        ({"snap": "start"}, 0),
        ({"snap": "middle"}, Fraction(1, 2)),
        ({"snap": "end"}, 1),
    ],
)
def test_a_channel_with_ranges_jumps_at_the_start_of_a_fade_unless_it_says_otherwise(
    keys: dict[str, object], share: Fraction | None
) -> None:
    assert channel(channel="strobe", **keys).snaps_at == share


@given(st.text(max_size=30))
def test_any_text_is_a_value_or_is_refused_and_never_an_error_of_another_kind(text: str) -> None:
    value = None
    with suppress(UnitError):
        value = parse_channel_value(text)
    assert value is None or parse_channel_value(str(value)) == value


values = st.one_of(
    st.integers(0, 255).map(lambda value: ChannelValue(value=value)),
    st.decimals(0, 100, places=3).map(lambda percent: ChannelValue(share=Percent(Fraction(percent), "%"))),
    st.tuples(st.sampled_from(["open", "gobo 3"]), st.integers(0, 100)).map(
        lambda pair: ChannelValue(range_name=pair[0], share=Percent(Fraction(pair[1]), "%"))
    ),
    st.sampled_from(["open", "gobo 3"]).map(lambda name: ChannelValue(range_name=name)),
)


@given(values)
def test_a_value_prints_as_a_text_that_is_read_as_the_same_value(value: ChannelValue) -> None:
    assert parse_channel_value(str(value)) == value


def test_a_channel_with_ranges_can_be_told_to_fade_all_the_same() -> None:
    fan = {"channel": "fan", "ranges": {"auto": "0-10", "by hand": "11-255"}}
    assert Channel.model_validate(fan).snaps_at == 0
    assert Channel.model_validate(fan | {"snap": "never"}).snaps_at is None
