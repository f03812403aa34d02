"""The receiver that the tests use, against packets written out by hand (ANSI E1.31-2018)."""

from __future__ import annotations

import pytest

from tests.output.sacn_receiver import DATA_LOSS_S, Discovery, Malformed, Receiver, is_in_sequence, read

A, B = "aa" * 16, "bb" * 16


def data(
    cid: str, sequence: int, level: int, *, priority: int = 100, options: int = 0, synchronisation: int = 0
) -> bytes:
    """Return a data packet of universe 1 with one slot, by hand."""
    return bytes.fromhex(
        "0010 0000 4153432D45312E3137000000"
        f"706F 00000004 {cid}"
        f"7059 00000002 {'00' * 64} {priority:02x} {synchronisation:04x} {sequence:02x} {options:02x} 0001"
        f"700C 02 A1 0000 0001 0002 00 {level:02x}"
    )


def synchronisation(cid: str, sequence: int, universe: int) -> bytes:
    return bytes.fromhex(
        f"0010 0000 4153432D45312E3137000000 7021 00000008 {cid} 700B 00000001 {sequence:02x} {universe:04x} 0000"
    )


def level(receiver: Receiver) -> int:
    return receiver.looks[1][0]


@pytest.mark.parametrize(
    ("new", "last", "counts"),
    [
        *[(1, 0, True), (0, 0, False), (255, 0, False), (237, 0, False), (236, 0, True), (235, 0, True)],
        *[(0, 255, True), (128, 0, True), (250, 5, False), (245, 9, True)],
    ],
)
def test_a_packet_counts_unless_it_is_up_to_19_behind(new: int, last: int, counts: bool) -> None:
    """ANSI E1.31-2018, clause 6.7.2 [source seen], rows [computed]."""
    assert is_in_sequence(new, last) is counts


def test_what_comes_out_of_sequence_is_not_shown() -> None:
    receiver = Receiver()
    for sequence, shown in ((10, 1), (9, 2), (10, 3), (11, 4)):
        receiver.hear(data(A, sequence, shown), 0)
    assert [fact.level for fact in receiver.facts if fact.what == "shown"] == [1, 4]


def test_the_highest_priority_wins_and_the_next_has_to_wait_for_2500_ms() -> None:
    """ANSI E1.31-2018, appendix A and clause 6.7.1 [source seen]."""
    receiver = Receiver()
    receiver.hear(data(B, 0, 90, priority=90), 0)
    receiver.hear(data(A, 0, 100), 0.1)
    for sequence in range(1, 30):
        receiver.hear(data(B, sequence, 91, priority=90), 0.1 + sequence * 0.08)
        assert level(receiver) == 100
    receiver.tick(0.1 + DATA_LOSS_S)
    assert level(receiver) == 91
    assert [fact.what for fact in receiver.facts if fact.cid == A] == ["heard", "shown", "lost"]


def test_a_source_that_says_that_it_ends_is_followed_at_once_and_its_last_slots_are_ignored() -> None:
    """ANSI E1.31-2018, clause 6.2.6 [source seen]."""
    receiver = Receiver()
    receiver.hear(data(A, 0, 100), 0)
    receiver.hear(data(B, 0, 90, priority=90), 0)
    receiver.hear(data(A, 1, 7, options=0x40), 0.02)
    assert level(receiver) == 90
    receiver.hear(data(B, 1, 7, options=0x40), 0.04)
    assert level(receiver) == 90
    assert receiver.facts[-1].what == "dark"


def test_a_rehearsal_lights_no_lamp() -> None:
    receiver = Receiver()
    receiver.hear(data(A, 0, 100, options=0x80), 0)
    receiver.hear(data(B, 0, 90, priority=90), 0)
    assert level(receiver) == 90


def test_data_waits_for_synchronisation_once_there_was_any() -> None:
    """ANSI E1.31-2018, clauses 6.2.4 and 11.1 [source seen]."""
    receiver = Receiver()
    receiver.hear(data(A, 0, 1, synchronisation=5), 0)
    assert level(receiver) == 1
    receiver.hear(synchronisation(A, 0, 5), 0)
    receiver.hear(data(A, 1, 2, synchronisation=5), 0.1)
    assert level(receiver) == 1
    receiver.hear(synchronisation(A, 0, 5), 0.11)
    assert level(receiver) == 1, "the number of the synchronisation packet is an old one"
    receiver.hear(synchronisation(A, 1, 6), 0.12)
    assert level(receiver) == 1
    receiver.hear(synchronisation(A, 1, 5), 0.13)
    assert level(receiver) == 2


@pytest.mark.parametrize(("options", "shown"), [(0x00, 1), (0x20, 3)])
def test_where_synchronisation_is_lost_data_holds_or_runs_free_as_the_packet_says(options: int, shown: int) -> None:
    """ANSI E1.31-2018, Force_Synchronization [source seen]."""
    receiver = Receiver()
    receiver.hear(data(A, 0, 1, synchronisation=5, options=options), 0)
    receiver.hear(synchronisation(A, 0, 5), 0)
    for sequence in range(1, 4):
        receiver.hear(data(A, sequence, sequence, synchronisation=5, options=options), sequence)
    assert level(receiver) == shown


def test_a_list_of_universes_is_read() -> None:
    page = bytes.fromhex(
        f"0010 0000 4153432D45312E3137000000 706C 00000008 {A} 7056 00000002 {'61' + '00' * 63} 00000000"
        "700C 00000001 00 00 0001 F9FF"
    )
    assert read(page) == Discovery(A, "a", 0, 0, (1, 63_999))


@pytest.mark.parametrize("cut", [0, 15, 16, 40, 117, 126])
def test_what_is_cut_short_is_thrown_away(cut: int) -> None:
    with pytest.raises(Malformed):
        read(data(A, 0, 1)[:cut])
