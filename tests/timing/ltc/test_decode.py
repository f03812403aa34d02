"""Timecode read from signals as they come off a tape."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.timing.ltc.bits import joined
from cuedeck.timing.ltc.decode import LtcDecoder, LtcReader
from cuedeck.timing.ltc.labels import LabelTrack, gaps_of, user_bits_of
from cuedeck.timing.timecode import Timecode, TimecodeRate
from tests.timing.ltc.signals import USER_BITS, pieces, played, read_labels, read_raw, signal, with_noise
from tests.tools import times

ALL_FPS = ["23.976", "24", "25", "29.97", "29.97df", "30"]


def texts(labels: object) -> list[str]:
    return [str(label) for label in labels]  # type: ignore[attr-defined]


@pytest.mark.parametrize("sample_rate_hz", [44_100, 48_000, 88_200, 96_000, 192_000])
@pytest.mark.parametrize("fps", ALL_FPS)
def test_every_frame_of_a_clean_signal_is_read_and_its_rate_told(fps: str, sample_rate_hz: int) -> None:
    labels = read_labels(signal("01:00:59:20", fps, 60, sample_rate_hz), sample_rate_hz)
    rate = TimecodeRate.parse(fps)
    first = Timecode.parse("01:00:59:20", rate)
    assert labels.rate == rate
    assert list(labels) == [first + number for number in range(60)]
    exact = np.arange(60) * float(sample_rate_hz / rate.frames_per_second)
    assert np.abs(labels.raw.starts - exact).max() < 20e-6 * sample_rate_hz
    assert (user_bits_of(labels.raw.data) == USER_BITS).all()
    assert not labels.raw.is_reverse.any()
    assert not labels.raw.is_inverted.any()
    assert gaps_of(labels) == []


@st.composite
def playings(draw: st.DrawFn) -> tuple[str, float, float, bool, bool, float, float, int, int]:
    return (
        draw(st.sampled_from(ALL_FPS)),
        draw(st.floats(0.5, 2.0)),
        draw(st.floats(0.5, 2.0)),
        draw(st.booleans()),
        draw(st.booleans()),
        draw(st.floats(-40, 0)),
        draw(st.floats(-0.3, 0.3)),
        draw(st.integers(0, 999)),
        draw(st.sampled_from([500, 1024, 1 << 20])),
    )


@settings(max_examples=times(20))
@given(playings())
def test_any_speed_direction_polarity_level_and_offset_is_read_right(
    playing: tuple[str, float, float, bool, bool, float, float, int, int],
) -> None:
    fps, begin_speed, end_speed, is_reverse, is_inverted, level_dbfs, offset, seed, size = playing
    clean = signal("09:59:58:10", fps, 50, level_dbfs=level_dbfs)
    tape = clean[::-1] if is_reverse else clean
    heard, places = played(tape, np.linspace(begin_speed, end_speed, 4 * len(tape)))
    heard = with_noise(-heard if is_inverted else heard, level_dbfs - 15, seed) + np.float32(offset)
    labels = read_labels(heard, fps=fps, size=size)
    # Where on the tape the middle of each frame lies tells which one it is.
    middles = places[((labels.raw.starts + labels.raw.ends) / 2).astype(int)]
    on_tape = len(tape) - 1 - middles if is_reverse else middles
    true = np.floor(on_tape / float(48_000 / labels.rate.frames_per_second)).astype(int)
    first = Timecode.parse("09:59:58:10", labels.rate).frames
    assert (labels.numbers - first == true).all()
    assert (labels.raw.is_reverse == is_reverse).all()
    assert (labels.raw.is_inverted == is_inverted).all()
    assert (user_bits_of(labels.raw.data) == USER_BITS).all()
    whole = int(places[-1] / float(48_000 / labels.rate.frames_per_second))
    assert len(labels) >= min(whole, 50) - 2  # the ends of the tape may be cut


@pytest.mark.parametrize("size", [1, 37, 1000, 1024, 5000])
def test_frames_are_the_same_however_the_signal_is_cut(size: int) -> None:
    samples = signal("01:00:00:00", "25", 8 if size == 1 else 40)
    whole, cut = read_raw(samples), read_raw(samples, size=size)
    assert cut.data.tolist() == whole.data.tolist()
    assert np.abs(cut.starts - whole.starts).max() < 1


def test_a_dropout_is_a_gap_with_the_labels_on_either_side() -> None:
    samples = with_noise(signal("01:00:00:00", "25", 100), -60, 1)
    samples[20 * 1920 + 300 : 30 * 1920 + 300] = 0
    labels = read_labels(samples)
    assert len(labels) == 89
    (gap,) = gaps_of(labels)
    assert (str(gap.before), str(gap.after)) == ("01:00:00:19", "01:00:01:06")
    assert gap.begin_sample == pytest.approx(20 * 1920, abs=2)
    assert gap.end_sample == pytest.approx(31 * 1920, abs=2)


@pytest.mark.parametrize(("noise_dbfs", "least"), [(-120.0, 10), (-50.0, 8)])
def test_timecode_that_begins_and_ends_in_silence_is_read_whole(noise_dbfs: float, least: int) -> None:
    silence = np.zeros(5000, np.float32)
    tape = np.concatenate((silence, signal("01:00:00:00", "25", 10)[:-24], silence))
    for heard, is_inverted in ((tape, False), (-tape, True), (tape[::-1], False)):
        labels = read_labels(with_noise(heard, noise_dbfs, 2))
        assert len(labels) >= least
        assert (labels.raw.is_inverted == is_inverted).all()


def test_a_click_costs_the_frame_that_it_is_in() -> None:
    samples = signal("01:00:00:00", "25", 20)
    samples[5 * 1920 + 700 : 5 * 1920 + 760] = 0.9
    assert texts(read_labels(samples)) == [f"01:00:00:{n:02d}" for n in range(20) if n != 5]


def test_a_jump_of_the_labels_is_a_gap_of_no_length() -> None:
    samples = np.concatenate((signal("01:00:00:00", "25", 20)[: 20 * 1920], signal("05:00:00:00", "25", 20)))
    labels = read_labels(samples)
    assert len(labels) == 40
    (gap,) = gaps_of(labels)
    assert (str(gap.before), str(gap.after)) == ("01:00:00:19", "05:00:00:00")
    assert gap.end_sample == pytest.approx(gap.begin_sample, abs=2)


def test_a_lone_frame_that_disagrees_with_both_neighbours_is_left_out() -> None:
    parts = [signal("01:00:00:00", "25", 10), signal("07:00:00:00", "25", 1), signal("01:00:00:11", "25", 10)]
    samples = np.concatenate([part[:-24] for part in parts])
    assert texts(read_labels(samples)) == [f"01:00:00:{n:02d}" for n in range(21) if n != 10]


def test_one_frame_alone_is_not_believed() -> None:
    samples = np.concatenate((np.zeros(999, np.float32), signal("01:00:00:00", "25", 1)))
    raw = read_raw(samples)
    assert len(raw) <= 1
    assert len(LabelTrack(TimecodeRate.parse("25")).take(raw)) == 0


def test_a_lone_frame_between_dropouts_is_believed_where_its_label_is_due() -> None:
    samples = signal("01:00:00:00", "25", 40)
    for dark in (10, 12):
        samples[dark * 1920 + 200 : dark * 1920 + 1700] = 0
    assert texts(read_labels(samples)) == [f"01:00:{n // 25:02d}:{n % 25:02d}" for n in range(40) if n not in (10, 12)]


@pytest.mark.parametrize("closing", [24, 0])
def test_the_last_frame_is_read_with_its_closing_edge_and_where_the_signal_ends_on_it(closing: int) -> None:
    samples = signal("01:00:00:00", "25", 10)
    samples = samples[: 10 * 1920 + closing]
    assert texts(read_labels(samples))[-1] == "01:00:00:09"


def test_a_last_frame_that_is_cut_short_is_not_read() -> None:
    samples = signal("01:00:00:00", "25", 10)
    assert texts(read_labels(samples[: 10 * 1920 - 12]))[-1] == "01:00:00:08"


@settings(max_examples=times(15))
@given(st.integers(0, 9999), st.floats(-60, 0))
def test_noise_holds_no_timecode(seed: int, level_dbfs: float) -> None:
    raw = read_raw(with_noise(np.zeros(48_000, np.float32), level_dbfs, seed))
    assert len(LabelTrack(TimecodeRate.parse("30")).take(raw)) == 0


@pytest.mark.parametrize("value", [0.0, 0.7, -1.0])
def test_silence_holds_no_frames(value: float) -> None:
    assert len(read_raw(np.full(48_000, value, np.float32))) == 0
    assert len(read_raw(np.empty(0, np.float32), size=1)) == 0


@pytest.mark.parametrize("noise_dbfs", [-50.0, -46.0, -40.0])
def test_no_label_is_wrong_in_heavy_noise(noise_dbfs: float) -> None:
    samples = with_noise(signal("01:00:00:00", "30", 1800, level_dbfs=-40.0), noise_dbfs, 3)
    labels = read_labels(samples, fps="30")
    true = np.floor((labels.raw.starts + labels.raw.ends) / 2 / 1600).astype(int)
    assert (labels.numbers - 30 * 3600 == true).all()
    assert len(labels) >= {-50.0: 1800, -46.0: 1700, -40.0: 100}[noise_dbfs]


def test_ten_minutes_at_minus_forty_with_noise_have_no_wrong_frame() -> None:
    samples = with_noise(signal("01:00:00:00", "29.97df", 17982, level_dbfs=-40.0), -52.0, 5)
    labels = read_labels(samples)
    assert labels.rate == TimecodeRate.parse("29.97df")
    assert labels.numbers.tolist() == list(range(107_892, 107_892 + 17_982))
    assert gaps_of(labels) == []


def test_hum_does_not_matter() -> None:
    samples = signal("01:00:00:00", "25", 50, level_dbfs=-20.0)
    hum = 0.2 * np.sin(2 * np.pi * 50 / 48_000 * np.arange(len(samples)))
    labels = read_labels(samples + hum.astype(np.float32))
    assert len(labels) >= 48
    assert gaps_of(labels) == []


@pytest.mark.parametrize("speed", [0.5, 0.8, 1.25, 2.0])
@pytest.mark.parametrize("fps", ["24", "25", "30"])
def test_labels_a_second_show_at_the_end_of_a_second_at_any_speed(fps: str, speed: float) -> None:
    heard, _ = played(signal("01:00:00:10", fps, 40), speed)
    labels = read_labels(heard)
    assert labels.rate.counted == int(fps)
    assert gaps_of(labels) == []


def test_the_level_is_that_of_the_crests() -> None:
    reader = LtcReader(48_000)
    reader.feed(with_noise(signal("01:00:00:00", "25", 50, level_dbfs=-30.0), -60, 2))
    assert 20 * np.log10(reader.level) == pytest.approx(-30, abs=0.5)


def arrivals(samples: np.ndarray, fps: str | None = None) -> list[tuple[float, str, bool]]:
    decoder = LtcDecoder(48_000, None if fps is None else TimecodeRate.parse(fps))
    fed = (decoder.feed(piece) for piece in pieces(samples, 1024))
    return [(one.at_s, str(one.label), one.is_reverse) for batch in fed for one in batch]


def test_live_labels_come_with_the_times_at_which_their_frames_start() -> None:
    found = arrivals(signal("01:00:00:00", "25", 50))
    assert [label for _, label, _ in found[:3]] == ["01:00:00:00", "01:00:00:01", "01:00:00:02"]
    assert [at_s for at_s, _, _ in found] == pytest.approx([number / 25 for number in range(len(found))], abs=1e-4)
    assert len(found) >= 49


def test_backwards_a_label_passes_where_its_frame_ends() -> None:
    samples = signal("01:00:00:00", "25", 50)
    found = arrivals(samples[::-1].copy())
    for at_s, label, is_reverse in found:
        assert is_reverse
        number = Timecode.parse(label, TimecodeRate.parse("25")).frames - 90_000
        assert at_s == pytest.approx((len(samples) - 1) / 48_000 - number / 25, abs=1e-4)


def test_live_labels_come_before_the_third_frame_is_over() -> None:
    decoder = LtcDecoder(48_000)
    fed = 0
    for piece in pieces(signal("01:00:00:00", "25", 10), 1024):
        fed += len(piece)
        if list(decoder.feed(piece)):
            break
    assert fed < 3 * 1920


def test_another_rate_is_told_after_the_source_was_changed() -> None:
    samples = np.concatenate((signal("01:00:00:00", "25", 60), signal("02:00:00;00", "29.97df", 900)))
    assert arrivals(samples)[-1][1] in ("02:00:29;28", "02:00:29;29")


def test_what_is_kept_between_pieces_stays_small() -> None:
    reader = LtcReader(48_000)
    noise = with_noise(np.zeros(480_000, np.float32), -20, 4)
    parts = [reader.feed(piece) for piece in pieces(noise, 1024)]
    assert len(joined(parts)) == 0
    assert len(reader._kept) < 48_000
