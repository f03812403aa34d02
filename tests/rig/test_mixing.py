"""The colour of one light: solved for a wanted colour, crossed from one to another, and read back."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cuedeck.light.chromaticity import Xy, uv_prime_from_xy
from cuedeck.rig.dimmer import DIMMERS, Dimmer, measured_dimmer
from cuedeck.rig.mixing import EmitterMixer, HueMixer, Mixer, Mixture, PointMixer, WhiteMixer, mixers_of, solve
from cuedeck.rig.white import WhiteScale
from cuedeck.show.channels import EmitterName
from cuedeck.show.colours import Colour, parse_colour
from cuedeck.show.fixtures import Emitter
from tests.light.colour_science import colour as reference
from tests.rig.rigs import EMITTERS, MEASURED, light_of
from tests.tools import times

SHARES = np.linspace(0.0, 1.0, 21)
METERED = measured_dimmer([(0.1, 42.0), (0.5, 1180.0), (1.0, 5210.0)])
ALL_DIMMERS = {**DIMMERS, "measured": METERED}
NAMES: tuple[EmitterName, ...] = ("red", "green", "blue", "white")
LINEAR = DIMMERS["linear"]


def emitter(x: float, y: float, luminance: float) -> Emitter:
    return Emitter(x=Fraction(str(x)), y=Fraction(str(y)), luminance=Fraction(str(luminance)))


KNOWN = tuple((name, emitter(*EMITTERS[name])) for name in NAMES)


def emitter_mixer(dimmer: Dimmer = LINEAR) -> EmitterMixer:
    return EmitterMixer(NAMES, KNOWN, dimmer)


def white_mixer(*pairs: tuple[float, float]) -> WhiteMixer:
    """Return the mixer of a channel with these positions and kelvins."""
    return WhiteMixer(WhiteScale(tuple(p for p, _ in pairs), tuple(1e6 / kelvin for _, kelvin in pairs)))


def values_of(mixer: Mixer, colour: str) -> np.ndarray:
    mixture = mixer.solve(parse_colour(colour))
    assert mixture is not None
    return np.array([mixture.values[name] for name in mixer.attributes])


def uv_of(mixer: Mixer, values: np.ndarray) -> np.ndarray:
    """Return u' and v' of values, shape (n, channels), as colour-science has them from x and y."""
    return np.array([reference.xy_to_Luv_uv(mixer.xy(row)) for row in values])


def light_of_emitters(dimmer: Dimmer, values: np.ndarray) -> np.ndarray:
    """Return X, Y, Z of drives, shape (n, 4), added up from x, y and Y of each emitter by colour-science."""
    readings = np.array([EMITTERS[name] for name in NAMES])
    return np.asarray(dimmer.light_from_control(values) @ reference.xyY_to_XYZ(readings))


def near(found: Xy, wanted: Xy, uv: float = 1e-6) -> bool:
    (u1, v1), (u2, v2) = uv_prime_from_xy(found), uv_prime_from_xy(wanted)
    return bool(np.hypot(u1 - u2, v1 - v2) <= uv)


# Solving.


@pytest.mark.parametrize("dimmer", ALL_DIMMERS.values(), ids=ALL_DIMMERS)
@pytest.mark.parametrize("text", ["xy 0.3127 0.3290", "xy 0.45 0.41", "sRGB 255 128 0", "5600 K", "3200 K -137 mired"])
def test_drives_give_the_colour_through_the_dimmer_with_the_strongest_emitter_full(text: str, dimmer: Dimmer) -> None:
    mixer, wanted = emitter_mixer(dimmer), parse_colour(text)
    mixture = mixer.solve(wanted)
    assert mixture is not None
    assert mixture.is_reached
    drives = values_of(mixer, text)
    assert drives.max() == 1
    xy = tuple(reference.XYZ_to_xy(light_of_emitters(dimmer, drives[None])[0]))
    assert near(xy, mixture.reached_xy)
    assert near(mixer.xy(drives), mixture.reached_xy)


def test_an_srgb_colour_is_asked_for_by_its_chromaticity() -> None:
    # IEC 61966-2-1: red is x 0.64, y 0.33; equal parts are D65, x 0.3127, y 0.3290.
    for text, xy in (("sRGB 255 0 0", (0.64, 0.33)), ("sRGB 90 90 90", (0.3127, 0.3290))):
        mixture = emitter_mixer().solve(parse_colour(text))
        assert mixture is not None
        assert near(mixture.reached_xy, xy, 2e-4)  # the standard's matrices are rounded to four places


def test_a_filtered_white_is_the_white_behind_the_filter() -> None:
    # 3200 K is 312.5 mired; 312.5 - 112.5 = 200 mired, 5000 K.
    mixer = white_mixer((0, 2500), (1, 10000))
    assert values_of(mixer, "3200 K -112.5 mired") == pytest.approx(values_of(mixer, "5000 K"))
    assert values_of(emitter_mixer(), "3200 K -112.5 mired") == pytest.approx(values_of(emitter_mixer(), "5000 K"))


def test_a_colour_outside_the_emitters_is_the_nearest_and_said_to_be_missed() -> None:
    mixture = emitter_mixer().solve(parse_colour("xy 0.08 0.83"))
    assert mixture is not None
    assert not mixture.is_reached
    distance = np.hypot(*(reference.xy_to_Luv_uv(mixture.reached_xy) - reference.xy_to_Luv_uv((0.08, 0.83))))
    assert mixture.distance_uv == pytest.approx(distance)


def test_emitters_that_were_not_measured_stay_out_of_a_colour_and_leave_what_they_shine_unknown() -> None:
    mixer = EmitterMixer((*NAMES, "amber"), KNOWN, LINEAR)
    drives = values_of(mixer, "5600 K")
    assert drives[-1] == 0
    assert mixer.xy(drives) is not None
    assert mixer.xy(np.where(np.arange(5) == 4, 0.1, drives)) is None


def test_nothing_is_known_of_emitters_that_were_not_measured() -> None:
    mixer = EmitterMixer(NAMES, (), LINEAR)
    assert mixer.solve(parse_colour("5600 K")) is None
    assert mixer.xy(np.ones(4)) is None


def test_dark_emitters_have_no_colour() -> None:
    assert emitter_mixer().xy(np.zeros(4)) is None


def test_a_white_off_the_locus_is_missed_by_a_colour_temperature_channel() -> None:
    mixer = white_mixer((0, 2500), (1, 10000))
    mixture = mixer.solve(parse_colour("5000 K Duv 0.02"))
    assert not mixture.is_reached
    assert mixture.values == pytest.approx(mixer.solve(parse_colour("5000 K")).values)


def test_a_colour_temperature_channel_takes_the_nearest_white_to_a_point() -> None:
    # CIE 015: D65 has a correlated colour temperature of 6504 K.
    mixer = white_mixer((0, 2500), (1, 10000))
    assert mixer.scale.kelvin_at(float(values_of(mixer, "xy 0.31271 0.32902")[0])) == pytest.approx(6504, abs=2)


def test_a_colour_far_from_white_still_finds_a_place_on_a_colour_temperature_channel() -> None:
    assert values_of(white_mixer((0, 2500), (1, 10000)), "sRGB 0 0 255").tolist() == [1.0]
    assert values_of(white_mixer((0, 2500), (1, 10000)), "sRGB 255 0 0").tolist() == [0.0]


def test_hue_and_saturation_of_the_primaries_and_of_white() -> None:
    # Hue 0, 1/3 and 2/3 are red, green and blue (HSV; Smith 1978, from memory). sRGB primaries where none are known.
    mixer = HueMixer(())
    for text, hue in (("sRGB 255 0 0", 0.0), ("sRGB 0 255 0", 1 / 3), ("sRGB 0 0 255", 2 / 3)):
        found = values_of(mixer, text)
        assert min(abs(found[0] - hue), 1 - abs(found[0] - hue)) < 0.002
        assert found[1] == pytest.approx(1, abs=0.002)
    assert values_of(mixer, "xy 0.3127 0.3290")[1] == pytest.approx(0, abs=0.001)


@given(st.integers(0, 255), st.integers(0, 255), st.integers(0, 255))
@settings(max_examples=times(30))
def test_hue_and_saturation_give_the_colour_back(red: int, green: int, blue: int) -> None:
    assume(red or green or blue)
    mixer, wanted = HueMixer(()), parse_colour(f"sRGB {red} {green} {blue}")
    mixture = mixer.solve(wanted)
    values = np.array([mixture.values[name] for name in mixer.attributes])
    assert mixture.is_reached
    assert near(mixer.xy(values), mixture.reached_xy)


def test_a_light_that_takes_x_and_y_is_handed_them() -> None:
    mixer = PointMixer()
    assert mixer.solve(parse_colour("xy 0.31 0.32")).values == {"x": 0.31, "y": 0.32}
    assert mixer.xy(np.array([0.31, 0.32])) == (0.31, 0.32)
    assert mixer.xy(np.array([0.31, 0.0])) is None
    assert mixer.xy(np.array([0.7, 0.7])) is None


# Crossing.

COLOURS = ["sRGB 255 0 0", "sRGB 0 255 60", "sRGB 30 0 255", "5600 K", "2800 K", "xy 0.45 0.41", "xy 0.2 0.5"]
pairs = st.tuples(st.sampled_from(COLOURS), st.sampled_from(COLOURS)).filter(lambda pair: pair[0] != pair[1])


@pytest.mark.parametrize("dimmer", ALL_DIMMERS.values(), ids=ALL_DIMMERS)
@given(pair=pairs)
@settings(max_examples=times(15))
def test_emitters_cross_evenly_on_a_straight_line_of_uv(dimmer: Dimmer, pair: tuple[str, str]) -> None:
    mixer = emitter_mixer(dimmer)
    origin, aim = (values_of(mixer, text) for text in pair)
    crossed = mixer.crossed(origin, aim, SHARES)
    uv = np.array([reference.xy_to_Luv_uv(xy) for xy in reference.XYZ_to_xy(light_of_emitters(dimmer, crossed))])
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * SHARES[:, None], abs=1e-9)


@pytest.mark.parametrize("dimmer", ALL_DIMMERS.values(), ids=ALL_DIMMERS)
@given(pair=pairs)
@settings(max_examples=times(15))
def test_while_emitters_cross_the_luminance_goes_one_way_from_one_end_to_the_other(
    dimmer: Dimmer, pair: tuple[str, str]
) -> None:
    mixer = emitter_mixer(dimmer)
    origin, aim = (values_of(mixer, text) for text in pair)
    luminance = light_of_emitters(dimmer, mixer.crossed(origin, aim, SHARES))[:, 1]
    steps = np.diff(luminance) * np.sign(luminance[-1] - luminance[0])
    assert steps.min() >= -1e-9 * luminance.max()


def test_half_way_from_red_to_white_the_mixture_is_that_of_the_formula() -> None:
    # Red full to white full. Weights X + 15Y + 3Z from x, y, Y: red Y 20, X 20 x 0.69 / 0.31 = 44.516, Z 0, so
    # 344.516; white Y 100, X 97.059, Z 100 x 0.33 / 0.34 = 97.059, so 1888.235. Half way in u'v' white has the
    # share L = 344.516 / (344.516 + 1888.235) = 0.15430 (computed from the formula).
    crossed = emitter_mixer().crossed(np.array([1.0, 0, 0, 0]), np.array([0.0, 0, 0, 1]), np.array([0.5]))
    assert crossed[0] == pytest.approx([1 - 0.15430, 0, 0, 0.15430], abs=5e-6)


def test_a_colour_that_comes_out_of_the_dark_comes_evenly() -> None:
    crossed = emitter_mixer().crossed(np.zeros(4), np.array([1.0, 0.5, 0, 0]), np.array([0.0, 0.25, 1.0]))
    assert crossed.tolist() == [[0, 0, 0, 0], [0.25, 0.125, 0, 0], [1, 0.5, 0, 0]]


def test_emitters_that_were_not_measured_cross_by_their_light() -> None:
    # Square law: half of the light from control 0 to 1 is at the root of a half.
    mixer = EmitterMixer(("red", "green"), (), DIMMERS["square"])
    assert not mixer.is_straight
    crossed = mixer.crossed(np.array([0.0, 1.0]), np.array([1.0, 0.0]), np.array([0.5]))
    assert crossed[0] == pytest.approx([0.5**0.5, 0.5**0.5])
    assert EmitterMixer(("red", "green"), (), LINEAR).is_straight


def test_a_two_tone_light_crosses_evenly_in_mired() -> None:
    # 2500 K is 400 mired, 10000 K is 100.
    mixer = white_mixer((0, 2500), (1, 10000))
    assert mixer.is_straight
    crossed = mixer.crossed(np.array([0.0]), np.array([1.0]), SHARES)
    assert [1e6 / mixer.scale.kelvin_at(float(row[0])) for row in crossed] == pytest.approx(400 - 300 * SHARES)


RISING = ((0.0, 2500.0), (0.25, 5000.0), (1.0, 10000.0))
"""400, 200 and 100 mired."""
FALLING = ((0.0, 10000.0), (0.75, 5000.0), (1.0, 2500.0))


@pytest.mark.parametrize("readings", [RISING, FALLING], ids=["rising", "falling"])
def test_a_light_measured_in_between_crosses_evenly_in_mired_too(readings: tuple[tuple[float, float], ...]) -> None:
    mixer = white_mixer(*readings)
    assert not mixer.is_straight
    origin, aim = values_of(mixer, "2500 K"), values_of(mixer, "10000 K")
    crossed = mixer.crossed(origin, aim, SHARES)
    assert [1e6 / mixer.scale.kelvin_at(float(row[0])) for row in crossed] == pytest.approx(400 - 300 * SHARES)
    # 200 mired, two thirds of the way, was read at that very place.
    assert mixer.crossed(origin, aim, np.array([2 / 3]))[0] == pytest.approx([readings[1][0]])


@pytest.mark.parametrize("readings", [RISING, FALLING], ids=["rising", "falling"])
@given(kelvin=st.floats(2500, 10000))
def test_a_white_lies_where_the_readings_say_whichever_way_they_run(
    readings: tuple[tuple[float, float], ...], kelvin: float
) -> None:
    scale = white_mixer(*readings).scale
    assert scale.kelvin_at(scale.position_of(kelvin)) == pytest.approx(kelvin)
    assert (scale.warmest_kelvin, scale.coolest_kelvin) == pytest.approx((2500, 10000))


@pytest.mark.parametrize("readings", [RISING, FALLING], ids=["rising", "falling"])
def test_a_white_out_of_reach_is_the_nearest_end(readings: tuple[tuple[float, float], ...]) -> None:
    mixer = white_mixer(*readings)
    warm, cool = sorted((readings[0], readings[-1]), key=lambda pair: pair[1])
    for text, end in (("2000 K", warm), ("20000 K", cool)):
        mixture = mixer.solve(parse_colour(text))
        assert list(mixture.values.values()) == [end[0]]
        assert not mixture.is_reached


def test_a_position_beyond_the_last_reading_leaves_without_a_jump() -> None:
    # Nothing was read under 20 %: 5 % is taken for the same white, and left evenly.
    mixer = white_mixer((0.2, 2500), (0.4, 5000), (1.0, 10000))
    crossed = mixer.crossed(np.array([0.05]), np.array([1.0]), np.array([0.0, 1e-9, 0.5, 1.0]))[:, 0]
    assert crossed[0] == 0.05
    assert crossed[1] == pytest.approx(0.05, abs=1e-8)
    assert crossed[3] == 1.0


@given(pairs)
@settings(max_examples=times(30))
def test_hue_and_saturation_cross_evenly_on_a_straight_line_of_uv(pair: tuple[str, str]) -> None:
    mixer = HueMixer(())
    origin, aim = (values_of(mixer, text) for text in pair)
    uv = uv_of(mixer, mixer.crossed(origin, aim, SHARES))
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * SHARES[:, None], abs=1e-9)


@given(pairs)
@settings(max_examples=times(30))
def test_x_and_y_cross_evenly_on_a_straight_line_of_uv(pair: tuple[str, str]) -> None:
    mixer = PointMixer()
    origin, aim = (values_of(mixer, text) for text in pair)
    uv = uv_of(mixer, mixer.crossed(origin, aim, SHARES))
    assert uv == pytest.approx(uv[0] + (uv[-1] - uv[0]) * SHARES[:, None], abs=1e-9)


MIXERS: dict[str, Mixer] = {
    "white": white_mixer(*RISING),
    **{f"emitters {name}": emitter_mixer(dimmer) for name, dimmer in ALL_DIMMERS.items()},
    "emitters unknown": EmitterMixer(NAMES, (), METERED),
    "emitters known in part": EmitterMixer((*NAMES, "amber"), KNOWN, METERED),
    "hue": HueMixer(()),
    "point": PointMixer(),
}


@pytest.mark.parametrize("mixer", MIXERS.values(), ids=MIXERS)
@given(data=st.data())
@settings(max_examples=times(20))
def test_crossing_leaves_from_where_it_was_and_stays_within_the_channels(mixer: Mixer, data: st.DataObject) -> None:
    channels = st.lists(st.floats(0, 1), min_size=len(mixer.attributes), max_size=len(mixer.attributes))
    origin, aim = np.array(data.draw(channels)), np.array(data.draw(channels))
    crossed = mixer.crossed(origin, aim, SHARES)
    assert crossed[0].tolist() == origin.tolist()
    assert crossed[-1] == pytest.approx(aim, abs=1e-12)
    assert crossed.min() >= -1e-12
    assert crossed.max() <= 1 + 1e-12


@pytest.mark.parametrize("mixer", MIXERS.values(), ids=MIXERS)
@given(data=st.data())
@settings(max_examples=times(20))
def test_lights_that_cross_together_cross_to_the_bit_as_each_does_alone(mixer: Mixer, data: st.DataObject) -> None:
    channels = st.lists(st.floats(0, 1), min_size=len(mixer.attributes), max_size=len(mixer.attributes))
    lights = st.lists(channels, min_size=5, max_size=5).map(np.array)
    origin, aim = data.draw(lights), data.draw(lights)
    together = mixer.crossed(origin, aim, SHARES)
    assert together.shape == (len(SHARES), 5, len(mixer.attributes))
    for light in range(5):
        alone = mixer.crossed(origin[light], aim[light], SHARES)
        assert together[:, light].tobytes() == alone.tobytes()


def test_lights_of_one_kind_have_equal_mixers_and_others_have_not() -> None:
    known = dict(KNOWN)
    scale = WhiteScale((0.0, 1.0), (400.0, 100.0))
    attributes = (*NAMES, "hue", "saturation", "x", "y")
    one = mixers_of(attributes, scale, known, METERED)
    again = mixers_of(list(attributes), WhiteScale((0.0, 1.0), (400.0, 100.0)), dict(reversed(KNOWN)), METERED)
    assert one == again
    assert [hash(mixer) for mixer in one] == [hash(mixer) for mixer in again]
    assert one[1] != mixers_of(attributes, scale, known, LINEAR)[1]
    assert one[1] != mixers_of(attributes, scale, {**known, "red": emitter(0.68, 0.31, 20)}, METERED)[1]


# Lights with several ways to take colour.

BOTH = """channels: [intensity, colour temperature, red, green, blue], colour temperature: {low: 2800 K, high: 6500 K},
 emitters: {red: {x: 0.69, y: 0.31, luminance: 20}, green: {x: 0.17, y: 0.70, luminance: 60},
 blue: {x: 0.14, y: 0.05, luminance: 6}}"""


def asked_of(kind: str, colour: Colour) -> Mixture:
    mixture = solve(light_of(kind).mixers, colour)
    assert mixture is not None
    return mixture


def test_a_white_comes_from_the_colour_temperature_and_the_emitters_beside_it_are_put_out() -> None:
    mixture = asked_of(BOTH, parse_colour("6500 K"))
    assert mixture.values == {"colour temperature": 1.0, "red": 0.0, "green": 0.0, "blue": 0.0}
    assert mixture.is_reached


def test_a_colour_comes_from_the_emitters_where_they_are_nearer() -> None:
    mixture = asked_of(BOTH, parse_colour("sRGB 255 0 0"))
    assert mixture.is_reached
    assert set(mixture.values) == {"red", "green", "blue"}
    assert mixture.values["red"] == 1


def test_a_white_that_the_colour_temperature_does_not_reach_comes_from_the_emitters() -> None:
    assert "red" in asked_of(BOTH, parse_colour("9000 K")).values
    assert "red" in asked_of(BOTH, parse_colour("5000 K Duv -0.02")).values


def test_a_white_from_the_colour_temperature_takes_the_saturation_away() -> None:
    kind = """channels: [intensity, colour temperature, hue, saturation],
     colour temperature: {low: 2800 K, high: 6500 K}"""
    assert asked_of(kind, parse_colour("6500 K")).values == {"colour temperature": 1.0, "hue": 0.0, "saturation": 0.0}
    assert set(asked_of(kind, parse_colour("sRGB 0 0 255")).values) == {"hue", "saturation"}


def test_before_any_cue_emitters_beside_a_colour_temperature_are_out() -> None:
    defaults = {one.attribute: one.default for one in light_of(BOTH).parameters()}
    assert (defaults["red"], defaults["green"], defaults["blue"]) == (0, 0, 0)


def test_a_light_without_a_colour_cannot_be_asked_for_one() -> None:
    assert solve(light_of("channels: [intensity]").mixers, parse_colour("5600 K")) is None


def test_a_light_without_a_dimmer_mixes_through_the_dimmer_of_its_emitters_and_another_does_not() -> None:
    for channels, dimmer in (("red, green", METERED), ("intensity, red, green", LINEAR)):
        (mixer,) = light_of(f"channels: [{channels}], dimmer: {MEASURED}").mixers
        assert isinstance(mixer, EmitterMixer)
        assert mixer.dimmer == dimmer
