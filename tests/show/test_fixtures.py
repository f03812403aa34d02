"""Fixture types and lights as hung: what a show may say of them, and what is refused where."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cuedeck.show.fixtures import FixtureType
from cuedeck.show.load import load_show
from cuedeck.show.units import ColourTemperature, Percent


def faults(kind: str) -> list[tuple[str, str, str]]:
    """Return place, words and cure of the problems of a type; what stands in its braces begins at column 13."""
    loaded = load_show(f"cuedeck: 1\ntypes: {{t: {{{kind}}}}}\n".encode())
    return [(f"{one.place.line}:{one.place.column}", one.what, one.cure) for one in sorted(loaded.problems)]


def type_of(kind: str) -> FixtureType:
    loaded = load_show(f"cuedeck: 1\ntypes: {{t: {{{kind}}}}}\n".encode())
    assert loaded.problems == ()
    return loaded.show.types["t"]


RED = "red: {x: 0.69, y: 0.31, luminance: 20}"
NINE = ["red", "green", "blue", "white", "amber", "lime", "cyan", "violet", "warm white"]


def test_a_light_of_several_modes_has_the_channels_of_each() -> None:
    kind = type_of("modes: {1 channel: [intensity], 2 channels: [intensity 16-bit]}")
    assert [(name, len(channels)) for name, channels in kind.variants()] == [("1 channel", 1), ("2 channels", 1)]
    assert kind.channels_in(None) is None
    assert kind.channels_in("3 channels") is None
    assert kind.channels_in("2 channels") == kind.modes["2 channels"]


def test_the_only_mode_of_a_light_need_not_be_named() -> None:
    kind = type_of("modes: {1 channel: [intensity]}")
    assert kind.channels_in(None) == kind.modes["1 channel"]


def test_a_light_without_modes_is_in_none() -> None:
    kind = type_of("channels: [intensity]")
    assert kind.channels_in(None) == kind.channels
    assert kind.channels_in("8 channels") is None


def test_readings_of_a_meter_are_kept_exactly() -> None:
    kind = type_of("channels: [intensity], dimmer: {0 %: 0, 10 %: 42 lux, 50 %: 1180.5 lx, 100 %: 5210}")
    assert kind.dimmer == {
        Percent.of(0): 0,
        Percent.of(Fraction(1, 10)): 42,
        Percent.of(Fraction(1, 2)): Fraction(2361, 2),
        Percent.of(1): 5210,
    }


def test_the_whites_of_a_channel_are_two_ends_or_readings() -> None:
    ends = type_of("channels: [intensity, colour temperature], colour temperature: {low: 2800 K, high: 6500 K}")
    assert ends.colour_temperature.low == ColourTemperature.of(2800)
    readings = type_of("channels: [intensity, colour temperature], colour temperature: {0 %: 2810 K, 100 %: 6480 K}")
    assert readings.colour_temperature == {
        Percent.of(0): ColourTemperature.of(2810),
        Percent.of(1): ColourTemperature.of(6480),
    }


CHANNELS_CURE = "write 'channels: [intensity]', or several lists of channels under 'modes:'"
XY_CURE = "x is 0 or more, y is above 0, and together they are at most 1"
CT = "channels: [intensity, colour temperature], colour temperature"  # the value begins at column 76


@pytest.mark.parametrize(
    ("kind", "place", "what", "cure"),
    [
        ("watts: 5", "2:12", "the type has no channels", CHANNELS_CURE),
        (
            "channels: [intensity], modes: {a: [intensity]}",
            "2:12",
            "a type has channels or modes, not both",
            CHANNELS_CURE,
        ),
        ("channels: []", "2:23", "'channels' has too few entries", "write at least 1"),
        ("modes: {a: [red, red]}", "2:12", "mode 'a': 'red' stands twice in the channels", "keep one of them"),
        (
            "modes: {a: [intensity], b: [fixed 0]}",
            "2:12",
            "mode 'b': no channel can be set",
            "add a channel such as intensity",
        ),
        (
            "channels: [intensity, hue]",
            "2:12",
            "the channel hue needs saturation beside it",
            "add the channel saturation",
        ),
        ("channels: [intensity, y]", "2:12", "the channel y needs x beside it", "add the channel x"),
        (
            "channels: [red, hue, saturation]",
            "2:12",
            "a light with a channel 'hue' needs an intensity too",
            "add the channel intensity",
        ),
        (
            f"channels: [intensity], emitters: {{{RED}}}",
            "2:12",
            "the emitter 'red' has no channel",
            "add the channel red, or take the emitter out",
        ),
        (
            "channels: [red], emitters: {red: {x: 0.7, y: 0.31, luminance: 20}}",
            "2:46",
            "x 0.7, y 0.31 is no chromaticity",
            XY_CURE,
        ),
        (
            "channels: [red], emitters: {red: {x: nan, y: 0.31, luminance: 20}}",
            "2:50",
            "'nan' is not a number",
            "write a number such as 25 or 0.5",
        ),
        (
            "channels: [red], emitters: {red: {x: 0.69, y: 0.31, luminance: 0}}",
            "2:76",
            "0 is out of range",
            "write a number above 0",
        ),
        (
            "channels: [red], emitters: {red: {x: 0.69, y: 0.31, luminance: 1e5}}",
            "2:76",
            "'1e5' is not a number",
            "write a number such as 25 or 0.5",
        ),
        (
            "channels: [red], emitters: {red: {x: 0.69, y: 0.31}}",
            "2:46",
            "the key 'luminance' is missing",
            "add 'luminance: ...' here",
        ),
        (
            "channels: [intensity], dimmer: sqare",
            "2:44",
            "'dimmer' does not know this word",
            "write 'linear', 'square' or 's-curve'",
        ),
        (
            "channels: [intensity], dimmer: {50: 3, 100 %: 9}",
            "2:45",
            "'50' has no unit",
            "write a percentage such as 45 %",
        ),
        (
            "channels: [intensity], dimmer: {120 %: 3}",
            "2:45",
            "120 % is out of range",
            "write a percentage of at most 100 %",
        ),
        (
            "channels: [intensity], dimmer: {50 %: -3 lux, 100 %: 9}",
            "2:51",
            "'-3 lux' is no reading of a light meter",
            "write 0 or more, such as 1180 lux",
        ),
        (
            "channels: [intensity], dimmer: {50 %: 11.5 fc, 100 %: 1180 lux}",
            "2:51",
            "'fc' is no unit for a reading",
            "write lux, or plain numbers, all of them in one unit: 11.5",
        ),
        (
            "channels: [intensity], dimmer: {50 %: '11,5 lux', 100 %: 23\N{NO-BREAK SPACE}lux}",
            "2:51",
            "'11,5' has a comma in its number",
            "write it with a point: '11.5'",
        ),
        (
            "channels: [intensity], dimmer: {50 %: inf lux, 100 %: 9}",
            "2:51",
            "'inf' is not a number",
            "write a number such as 25 or 0.5",
        ),
        (
            "channels: [intensity], dimmer: {50 %: 3, 50.0 %: 4, 100 %: 9}",
            "2:44",
            "'50.0 %' and '50 %' are the same",
            "keep one of the two",
        ),
        (
            f"{CT}: {{low: 6500 K, high: 2800 K}}",
            "2:76",
            "low 6500 K is not below high 2800 K",
            "swap them: the warm end is low",
        ),
        (f"{CT}: {{low: 2800 K}}", "2:76", "the key 'high' is missing", "add 'high: ...' here"),
        (f"{CT}: {{0 %: 2800 K}}", "2:76", "'colour temperature' has too few entries", "write at least 2"),
        (
            f"{CT}: {{0 %: 2800 K, 0.0 %: 2900 K, 100 %: 6500 K}}",
            "2:76",
            "'0.0 %' and '0 %' are the same",
            "keep one of the two",
        ),
        (
            "channels: [intensity], tenth switch: up",
            "2:50",
            "'tenth switch' does not know this word",
            "write 'on' or 'off'",
        ),
    ],
)
def test_a_type_that_will_not_do_is_refused_where_it_is_wrong(kind: str, place: str, what: str, cure: str) -> None:
    assert faults(kind) == [(place, what, cure)]


def test_the_emitter_of_a_channel_that_could_not_be_read_is_not_reported_for_it() -> None:
    assert [what for _, what, _ in faults(f"channels: [intensity, rd], emitters: {{{RED}}}")] == [
        "'rd' is not a channel that cuedeck knows"
    ]


def test_more_emitters_than_are_solved_for_are_refused() -> None:
    emitters = ", ".join(f"{name}: {{x: 0.2, y: 0.{n + 1}, luminance: 1}}" for n, name in enumerate(NINE[:8]))
    assert faults(f"channels: [{', '.join(NINE)}], emitters: {{{emitters}}}") == []
    nine = f"{emitters}, warm white: {{x: 0.45, y: 0.41, luminance: 1}}"
    assert [(what, cure) for _, what, cure in faults(f"channels: [{', '.join(NINE)}], emitters: {{{nine}}}")] == [
        ("'emitters' has too many entries", "keep it to 8")
    ]


@pytest.mark.parametrize("count", [1000, 1001])
def test_readings_are_kept_to_a_thousand(count: int) -> None:
    readings = ", ".join(f"{Fraction(n, 20)} %: {n}" for n in range(1, count + 1))
    found = faults(f"channels: [intensity], dimmer: {{{readings}}}")
    assert found == ([] if count == 1000 else [("2:44", "'dimmer' has too many entries", "keep it to 1000")])


def test_a_loss_that_is_a_gain_is_refused() -> None:
    (problem,) = load_show(b"cuedeck: 1\nrig: {a: {type: dimmer, address: 1.1, loss: -1 stop}}\n").problems
    assert (problem.place.column, problem.what) == (45, "a loss of -1 stop is a gain")
