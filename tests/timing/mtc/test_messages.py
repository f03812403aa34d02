"""MIDI timecode as bytes: cut anywhere, disturbed, forwards and in reverse, and as the library mido has it."""

from __future__ import annotations

import contextlib
from fractions import Fraction
from io import BytesIO

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuedeck.show.units import UnitError
from cuedeck.timing.chase import Arrival, Reading
from cuedeck.timing.mtc.messages import (
    RATES_BY_CODE,
    FullFrame,
    MtcMessage,
    MtcParser,
    MtcReader,
    QuarterFrame,
    UserBits,
    code_of,
    running,
)
from cuedeck.timing.mtc.midi_file import MidiFileBroken, TimedMessage, read_midi_file, write_midi_file
from cuedeck.timing.timecode import RATES, Timecode, TimecodeRate

RATES_OF_MIDI = st.sampled_from(RATES_BY_CODE)
LABELS = RATES_OF_MIDI.flatmap(lambda rate: st.integers(0, rate.frames_per_day - 1).map(lambda n: Timecode(n, rate)))
NIBBLE = st.integers(0, 15)
MESSAGES: st.SearchStrategy[MtcMessage] = st.one_of(
    st.builds(QuarterFrame, st.integers(0, 7), NIBBLE),
    st.builds(FullFrame, LABELS, st.integers(0, 127)),
    st.builds(UserBits, st.tuples(*[NIBBLE] * 8), st.integers(0, 3), st.integers(0, 127)),
)


def read(dues: list[tuple[float, bytes]]) -> list[Reading]:
    parser, reader = MtcParser(), MtcReader()
    return [one for at_s, data in dues for message in parser.feed(data) for one in reader.take(at_s, message)]


def run_of(first: Timecode, frames: int, *, is_reverse: bool = False) -> list[tuple[float, bytes]]:
    return [(float(due.at_s), due.encoded) for due in running(first, frames, is_reverse=is_reverse)]


# Bytes.


@given(st.lists(MESSAGES, max_size=12), st.data())
def test_messages_come_back_however_the_stream_is_cut(messages: list[MtcMessage], data: st.DataObject) -> None:
    stream = b"".join(message.encoded for message in messages)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    parser = MtcParser()
    found: list[MtcMessage] = []
    for start, end in zip([0, *cuts], [*cuts, len(stream)], strict=True):
        found += parser.feed(stream[start:end])
    assert found == messages


@given(st.lists(MESSAGES, min_size=1, max_size=8), st.data())
def test_realtime_bytes_may_stand_between_any_two_bytes(messages: list[MtcMessage], data: st.DataObject) -> None:
    stream = bytearray(b"".join(message.encoded for message in messages))
    for _ in range(data.draw(st.integers(1, 10))):
        stream.insert(
            data.draw(st.integers(0, len(stream))), data.draw(st.sampled_from([0xF8, 0xFA, 0xFC, 0xFE, 0xFF]))
        )
    assert MtcParser().feed(bytes(stream)) == messages


@given(st.binary(max_size=200), MESSAGES)
def test_after_any_noise_the_next_message_is_found(noise: bytes, message: MtcMessage) -> None:
    assert MtcParser().feed(noise + message.encoded)[-1:] == [message]


def test_other_messages_and_running_status_are_passed_over() -> None:
    label = Timecode.parse("10:00:00:00", RATES["25"])
    notes = bytes.fromhex("90 3C 40 3C 00 3E 40")
    clipped = bytes.fromhex("F0 7F 7F 01 01 2A 00")  # an exclusive message that a note breaks off
    other = bytes.fromhex("F0 7E 7F 06 01 F7") + bytes((0xF0, *range(60), 0xF7))
    stream = notes + clipped + notes + other + FullFrame(label).encoded + bytes.fromhex("F1 04 23")
    assert MtcParser().feed(stream) == [FullFrame(label), QuarterFrame(0, 4)]


def test_a_label_that_is_not_in_use_is_no_label() -> None:
    dropped = bytes.fromhex("F0 7F 7F 01 01 40 01 00 00 F7")  # 00:01:00;00
    late = bytes.fromhex("F0 7F 7F 01 01 3F 00 00 00 F7")  # 31 h
    assert MtcParser().feed(dropped + late) == []
    pieces = [bytes((0xF1, byte)) for byte in bytes.fromhex("00 10 20 30 41 50 60 74")]
    assert read([(n / 120, piece) for n, piece in enumerate(pieces)]) == []


@given(st.lists(MESSAGES, max_size=12))
def test_mido_reads_what_we_write(messages: list[MtcMessage]) -> None:
    # Against the parser of the general library mido.
    parser = mido.Parser()
    parser.feed(b"".join(message.encoded for message in messages))
    told = list(parser)
    assert [bytes(one.bytes()) for one in told] == [message.encoded for message in messages]
    for one, message in zip(told, messages, strict=True):
        if isinstance(message, QuarterFrame):
            assert (one.type, one.frame_type, one.frame_value) == ("quarter_frame", message.piece, message.data)


@given(st.integers(0, 7), NIBBLE)
def test_we_read_what_mido_writes(piece: int, data: int) -> None:
    written = mido.Message("quarter_frame", frame_type=piece, frame_value=data)
    assert MtcParser().feed(bytes(written.bytes())) == [QuarterFrame(piece, data)]


# Running timecode.


@given(LABELS, st.integers(2, 60))
def test_a_run_is_read_back_with_the_label_and_the_time_of_every_frame(first: Timecode, frames: int) -> None:
    told = read(run_of(first, frames))
    frame_s = 1 / first.rate.frames_per_second
    assert told == [Arrival(float(n * frame_s), first + n) for n in range(frames - frames % 2)]


@given(LABELS, st.integers(2, 60))
def test_a_run_in_reverse_is_read_back_with_the_edges_in_the_order_they_passed(first: Timecode, frames: int) -> None:
    told = read(run_of(first, frames, is_reverse=True))
    frame_s = 1 / first.rate.frames_per_second
    whole = frames - frames % 2
    assert told == [Arrival(float(n * frame_s), first - n, True) for n in range(1, whole + 1)]


@pytest.mark.parametrize("name", ["23.976", "24", "25", "29.97", "29.97df", "30"])
def test_quarter_frames_are_due_at_exact_quarters_of_real_frames(name: str) -> None:
    rate = TimecodeRate.parse(name)
    dues = list(running(Timecode(0, rate), 1000))
    assert len(dues) == 4000
    assert [due.at_s for due in dues] == [n / (4 * rate.frames_per_second) for n in range(4000)]


@given(LABELS, st.integers(1, 15))
def test_a_row_that_starts_in_the_middle_is_not_put_together(first: Timecode, lost: int) -> None:
    dues = run_of(first, 6)[lost:]
    told = read(dues)
    whole = 2 if lost <= 8 else 4
    assert [one.label for one in told] == [first + n for n in range(whole, 6)]


@given(LABELS, st.integers(0, 40), st.integers(1, 20))
def test_lost_pieces_never_make_a_wrong_label(first: Timecode, start: int, count: int) -> None:
    dues = run_of(first, 20)
    told = read(dues[:start] + dues[start + count :])
    frame_s = 1 / first.rate.frames_per_second
    for one in told:
        assert one.label == first + round(one.at_s / float(frame_s))
    assert told


@pytest.mark.parametrize("name", ["47.952", "48", "50", "59.94", "59.94df", "60"])
def test_rates_that_midi_does_not_count_are_refused(name: str) -> None:
    with pytest.raises(UnitError, match="MIDI timecode does not count"):
        code_of(TimecodeRate.parse(name))


def test_rates_a_thousandth_slower_go_by_the_count_of_their_frames() -> None:
    assert code_of(RATES["23.976"]) == 0
    assert code_of(RATES["29.97"]) == 3


# Files.


@pytest.mark.parametrize("name", ["23.976", "24", "25", "29.97", "29.97df", "30"])
def test_a_file_keeps_exact_times_and_mido_reads_the_same(name: str) -> None:
    rate = TimecodeRate.parse(name)
    beat_us = int(3_000_000 / rate.frames_per_second)
    sent = [TimedMessage(due.at_s, due.encoded) for due in running(Timecode(1000, rate), 100)]
    sent.insert(0, TimedMessage(Fraction(0), FullFrame(Timecode(1000, rate)).encoded))
    written = write_midi_file(sent, beat_us)
    assert read_midi_file(written) == sent
    # Against mido, which adds up times in floats and reads no escape: exclusive messages at the same times.
    sent = [TimedMessage(due.at_s, FullFrame(Timecode(1000 + n, rate)).encoded) for n, due in enumerate(sent[1:])]
    written = write_midi_file(sent, beat_us)
    now_s = 0.0
    told: list[tuple[float, bytes]] = []
    for message in mido.MidiFile(file=BytesIO(written)):
        now_s += message.time
        if not message.is_meta:
            told.append((now_s, bytes(message.bytes())))
    assert [data for _, data in told] == [message.encoded for message in sent]
    assert [at_s for at_s, _ in told] == pytest.approx([float(message.at_s) for message in sent], abs=1e-9)


def test_a_file_of_mido_with_tempo_changes_and_two_tracks_is_read_at_the_times_of_mido() -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=96)
    tempo, pieces = mido.MidiTrack(), mido.MidiTrack()
    tempo += [mido.MetaMessage("set_tempo", tempo=t, time=d) for t, d in ((400_000, 0), (700_000, 50), (300_000, 90))]
    for number in range(60):
        pieces.append(mido.Message("quarter_frame", frame_type=number % 8, frame_value=number % 16, time=7))
        pieces.append(mido.Message("note_on", note=number, time=3))
    file.tracks += [tempo, pieces]
    content = BytesIO()
    file.save(file=content)
    told = read_midi_file(content.getvalue())
    now_s = 0.0
    expected: list[tuple[float, bytes]] = []
    for message in mido.MidiFile(file=BytesIO(content.getvalue())):
        now_s += message.time
        if not message.is_meta:
            expected.append((now_s, bytes(message.bytes())))
    assert [one.encoded for one in told] == [data for _, data in expected]
    assert [float(one.at_s) for one in told] == pytest.approx([at_s for at_s, _ in expected], abs=1e-9)


def test_quarter_frames_in_escapes_and_frame_counting_files_are_read() -> None:
    # SMF 1.0: F7 and a length escape any bytes; a division of -25 and 40 makes ticks of 1 ms.
    track = bytes.fromhex("00 F7 02 F1 04  0A F7 02 F1 11  00 FF 2F 00")
    header = bytes.fromhex("4D546864 00000006 0000 0001 E728")
    data = header + b"MTrk" + len(track).to_bytes(4, "big") + track
    assert read_midi_file(data) == [
        TimedMessage(Fraction(0), bytes.fromhex("F1 04")),
        TimedMessage(Fraction(1, 100), bytes.fromhex("F1 11")),
    ]


@given(st.binary(max_size=80))
def test_bytes_that_are_no_midi_file_are_refused_in_words(noise: bytes) -> None:
    header = bytes.fromhex("4D546864 00000006 0000 0001 01E0")
    for data in (noise, header + noise, header + b"MTrk" + len(noise).to_bytes(4, "big") + noise):
        with contextlib.suppress(MidiFileBroken):  # anything else would be a fault
            messages = read_midi_file(data)
            assert messages == sorted(messages, key=lambda one: one.at_s)


def test_a_file_of_songs_of_their_own_is_refused() -> None:
    with pytest.raises(MidiFileBroken, match="format 2"):
        read_midi_file(bytes.fromhex("4D546864 00000006 0002 0001 01E0"))
