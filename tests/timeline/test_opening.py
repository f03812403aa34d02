"""What is said about a show when it is opened: each problem at its place, with a cure."""

from __future__ import annotations

from pathlib import Path

import pytest

from cuedeck.folder.folder import NoShow, ShowFolder
from cuedeck.show.problems import Problem, Severity
from tests.timeline.shows import HEAD, opened, show_text

KEYS = "    move: {keys: [{time: 0 s, slide: 0 mm, pan: 0 deg}, {time: 2 s, slide: 120 mm, pan: 30 deg}]}\n"
CSV = "time s,slide mm\n0,0\n2,120\n"


def told(problems: tuple[Problem, ...]) -> list[tuple[str, str, str, str]]:
    """Return place, severity, words and cure of problems."""
    return [(f"{one.place.line}:{one.place.column}", str(one.severity), one.what, one.cure) for one in problems]


def line_of(text: str, part: str) -> int:
    """Return the number of the line of a text that holds a part."""
    return next(number for number, line in enumerate(text.splitlines(), start=1) if part in line)


def test_a_sound_show_has_nothing_said_about_it() -> None:
    found = opened(show_text("cue: 1, at: slide 60 mm, look: key, fade: 1 s", shot=KEYS))
    assert found.problems == ()
    assert found.plan("1").refresh_hz == 40
    assert list(found.moves) == ["1"]


def test_the_highest_refresh_that_the_slots_allow_is_taken_where_none_is_given() -> None:
    # By ANSI E1.11-2008 (R2018), with a break of 100 us and a mark of 16 us.
    full = HEAD.replace("refresh: 40 Hz\nslots: 24\n", "")
    assert opened(show_text(head=full)).plan("1").refresh_hz == 44
    assert opened(show_text(head=HEAD.replace("refresh: 40 Hz\n", ""))).plan("1").refresh_hz == 822


@pytest.mark.parametrize(
    ("start", "shot", "what", "cure"),
    [
        (
            "slide 130 mm",
            KEYS,
            "cue 1 never happens: the axis does not pass 'slide 130 mm'",
            "write a position within its travel, 0 to 120 mm",
        ),
        (
            "slide 60 mm falling",
            KEYS,
            "cue 1 never happens: the axis does not pass 'slide 60 mm falling'",
            "it passes 60 mm once: write 'slide 60 mm'",
        ),
        (
            "slide 60 mm pass 2",
            KEYS,
            "cue 1 never happens: the axis does not pass 'slide 60 mm pass 2'",
            "it passes 60 mm once: write 'slide 60 mm'",
        ),
        ("slid 60 mm", KEYS, "cue 1 never happens: the move has no axis 'slid'", "write 'slide'"),
        (
            "jib 60 mm",
            KEYS,
            "cue 1 never happens: the move has no axis 'jib'",
            "write one of 'slide', 'pan'",
        ),
        (
            "pan 20 mm",
            KEYS,
            "cue 1 never happens: axis 'pan' is counted in deg",
            "write a position such as pan 15 deg",
        ),
        (
            "slide 20 deg",
            KEYS,
            "cue 1 never happens: axis 'slide' is counted in mm",
            "write a position such as slide 60 mm",
        ),
        (
            "slide 60 mm",
            "",
            "cue 1 never happens: shot 1 has no move",
            "add 'move: moves/FILE.csv' to the shot, or 'move: live' if the rig tells; or write 'at: 2 s'",
        ),
        (
            "40 % of the move",
            "",
            "cue 1 never happens: shot 1 has no move",
            "add 'move: moves/FILE.csv' to the shot, or 'move: live' if the rig tells; or write 'at: 2 s'",
        ),
    ],
)
def test_a_cue_that_never_happens_is_reported_at_its_start(start: str, shot: str, what: str, cure: str) -> None:
    text = show_text(f"cue: 1, at: {start}, look: key", shot=shot)
    assert told(opened(text).problems) == [(f"{line_of(text, 'at: ' + start)}:22", "error", what, cure)]


@pytest.mark.parametrize("written", ["move:", "move: ~", "move: [1]", "mve: moves/a.csv"])
def test_a_move_that_could_not_be_read_is_reported_and_no_cue_or_light_that_waits_for_it(written: str) -> None:
    head = HEAD + "  rider: {type: dimmer, address: 1.20, rides: slide}\n"
    text = show_text("cue: 1, at: slide 30 mm, look: key", shot=f"    {written}\n", head=head)
    (problem,) = opened(text).problems
    assert problem.place.line == line_of(text, written)
    assert problem.is_error


def test_a_fade_that_the_next_cue_overtakes_is_a_warning_at_the_fade() -> None:
    text = show_text(
        "cue: 1, at: 0 s, look: full, fade: 2 s",
        "cue: out, at: 1.25 s, look: black, fade: 1 s",
    )
    assert told(opened(text).problems) == [
        (
            f"{line_of(text, 'cue: 1,')}:45",
            "warning",
            "cue 1 fades for 2 s, and cue out takes over 'key' after 1.25 s",
            "shorten the fade to 1.25 s or less, or start cue out later",
        )
    ]
    assert opened(text).errors == ()


def test_a_fade_is_not_overtaken_by_a_cue_on_other_lights_nor_by_one_at_its_end() -> None:
    other = show_text("cue: 1, at: 0 s, look: key, fade: 2 s", "cue: 2, at: 1 s, look: old")
    assert opened(other).problems == ()
    at_its_end = show_text("cue: 1, at: 0.1 s, look: key, fade: 0.2 s", "cue: 2, after: 1, look: black")
    assert opened(at_its_end).problems == ()


@pytest.mark.parametrize(
    ("slots", "refresh", "highest"),
    # ANSI E1.11-2008 (R2018): 44 packets a second with 512 slots, 830 with 24, of which our line reaches 822.
    [(512, "45 Hz", 44), (24, "831 Hz", 822)],
)
def test_a_refresh_out_of_the_range_of_the_line_is_refused(slots: int, refresh: str, highest: int) -> None:
    head = HEAD.replace("40 Hz", refresh).replace("slots: 24", f"slots: {slots}")
    assert told(opened(show_text(head=head)).problems) == [
        (
            "2:10",
            "error",
            f"{refresh} is outside what ANSI E1.11 allows for {slots} slots",
            f"write 1 Hz to {highest} Hz, or send fewer slots with 'slots:'",
        )
    ]


def test_a_refresh_that_the_standard_allows_and_our_line_does_not_reach_is_a_warning() -> None:
    found = opened(show_text(head=HEAD.replace("40 Hz", "830 Hz")))
    assert told(found.problems) == [
        (
            "2:10",
            "warning",
            "a serial line with its breaks reaches 822 Hz for 24 slots, and misses packets at 830 Hz",
            "write 'refresh: 822 Hz', or send fewer slots with 'slots:'",
        )
    ]
    assert found.plan("1").refresh_hz == 830
    assert opened(show_text(head=HEAD.replace("40 Hz", "822 Hz"))).problems == ()


@pytest.mark.parametrize("refresh", ["0.5 Hz", "0 Hz"])
def test_less_than_one_packet_a_second_is_refused(refresh: str) -> None:
    # ANSI E1.11-2008 (R2018): from break to break is one second at most.
    (problem,) = opened(show_text(head=HEAD.replace("40 Hz", refresh))).errors
    assert (problem.place.line, problem.what) == (2, f"{refresh} is out of range")
    assert problem.cure == "write a frequency of at least 1 Hz"


def test_a_refresh_of_very_many_digits_is_refused() -> None:
    head = HEAD.replace("40 Hz", "999999999999.999999999999/30000000000 Hz")
    (problem,) = opened(show_text("cue: 1, at: 0 s, look: key", head=head)).errors
    assert problem.what.endswith(" Hz is more exact than a clock can keep")
    assert problem.cure == "write it with fewer digits, such as 40 Hz"


def test_a_move_file_that_is_not_there_is_reported_once_and_its_cues_are_not() -> None:
    text = show_text("cue: 1, at: slide 60 mm, look: key", shot="    move: moves/a.csv\n")
    assert told(opened(text).problems) == [
        (
            f"{line_of(text, 'move:')}:11",
            "error",
            "the move file 'moves/a.csv' cannot be read: no such file or directory",
            "write the path of a file in the show folder, such as moves/slide-in.csv",
        )
    ]


def test_a_fault_in_a_move_file_is_reported_in_that_file() -> None:
    text = show_text("cue: 1, at: slide 60 mm, look: key", shot="    move: moves/a.csv\n")
    (problem,) = opened(text, {"moves/a.csv": "time s,slide mm\n0,0\n1,far\n"}).problems
    assert str(problem) == "moves/a.csv:3:3: error: 'far' is not a number\n    write a plain number such as 120.5"


def test_a_light_that_rides_an_axis_no_move_has_is_a_warning() -> None:
    head = HEAD.replace("address: 1.2}", "address: 1.2, rides: arm}")
    (problem,) = opened(show_text("cue: 1, at: 0 s, look: key", head=head, shot=KEYS)).problems
    assert (problem.severity, problem.what) == (Severity.WARNING, "'old' rides 'arm', and no move has such an axis")
    assert problem.cure == "write one of 'pan', 'slide'"
    (problem,) = opened(show_text("cue: 1, at: 0 s, look: key", head=head)).problems
    assert problem.cure == "give a shot a move with that axis"
    assert opened(show_text(head=head.replace("arm", "pan"), shot=KEYS)).problems == ()


def test_a_shot_of_more_than_a_day_is_refused() -> None:
    text = show_text("cue: 1, at: 86400 s, look: key", "cue: 2, after: 1, wait: 1 s, look: old")
    assert [problem.what for problem in opened(text).errors] == ["shot 1 lasts 86401 s, more than a day"]


def test_problems_are_sorted_by_place_and_said_once() -> None:
    text = show_text("cue: 1, at: slide 1 mm, look: nowhere", "cue: 2, at: 50 %, look: nothing")
    places = [problem.place for problem in opened(text).problems]
    assert len(places) == 4
    assert places == sorted(set(places))


# On disk.


def folder_with(tmp_path: Path, move: str) -> ShowFolder:
    folder = tmp_path / "show"
    (folder / "moves").mkdir(parents=True)
    (folder / "show.yaml").write_text(show_text("cue: 1, at: slide 60 mm, look: key", shot=f"    move: {move}\n"))
    return ShowFolder(folder)


def test_a_show_and_its_move_are_read_from_their_folder(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "moves/a.csv")
    (folder.path / "moves" / "a.csv").write_text(CSV)
    found = folder.open()
    assert found.problems == ()
    assert found.plan("1").start_times() == {"1": 1}
    assert ShowFolder(folder.path / "show.yaml").name == folder.name == "show"


@pytest.mark.parametrize("move", ["../a.csv", "moves/../../a.csv", "ABSOLUTE", "moves/link.csv"])
def test_a_path_that_leads_out_of_the_show_folder_is_refused(tmp_path: Path, move: str) -> None:
    outside = tmp_path / "a.csv"
    outside.write_text(CSV)
    folder = folder_with(tmp_path, move.replace("ABSOLUTE", str(outside)))
    (folder.path / "moves" / "link.csv").symlink_to(outside)
    (problem,) = folder.open().errors
    assert problem.what == "this path leads out of the show folder"
    assert problem.cure == "write a path inside the show folder, such as moves/slide-in.csv"


@pytest.mark.parametrize(
    ("move", "what"),
    [
        ("moves/none.csv", "the move file 'moves/none.csv' cannot be read: no such file or directory"),
        ("moves", "the move file 'moves' cannot be read: is a directory"),
        ('"a\\0.csv"', "this is no path of a file"),
    ],
)
def test_a_path_that_leads_to_no_file_is_reported(tmp_path: Path, move: str, what: str) -> None:
    assert [problem.what for problem in folder_with(tmp_path, move).open().errors] == [what]


def test_a_link_that_leads_back_to_itself_is_reported(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "moves/a.csv")
    (folder.path / "moves" / "a.csv").symlink_to("a.csv")
    (problem,) = folder.open().errors
    # Python 3.13 follows such a link until the system says no.
    assert problem.what.startswith(("this is no path of a file", "the move file 'moves/a.csv' cannot be read"))


def test_a_show_file_that_leads_out_of_its_folder_or_is_huge_is_named_with_a_cure(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, "moves/a.csv")
    show = folder.path / "show.yaml"
    cure = r"; put the file itself into the folder, at most 1 MB of it"
    show.rename(tmp_path / "outside.yaml")
    show.symlink_to(tmp_path / "outside.yaml")
    with pytest.raises(NoShow, match=r"show/show\.yaml is not read: this path leads out of the show folder" + cure):
        folder.open()
    show.unlink()
    with show.open("wb") as file:
        file.truncate(3_000_000_000)
    with pytest.raises(NoShow, match=r"show/show\.yaml is not read: the file is larger than 16 MB" + cure):
        folder.open()


def test_a_long_recording_is_read(tmp_path: Path) -> None:
    # A minute at a thousand samples a second, three axes wide.
    folder = folder_with(tmp_path, "moves/a.csv")
    rows = "".join(f"{number / 1000:.3f},{number / 500:.6f},0.123456,0.654321\n" for number in range(60_000))
    (folder.path / "moves" / "a.csv").write_text(f"time s,slide mm,lift mm,pan deg\n{rows}")
    assert [str(problem) for problem in folder.open().errors] == []


def test_a_path_without_a_show_is_told_what_to_give(tmp_path: Path) -> None:
    with pytest.raises(NoShow, match=r"there is no folder '.*none': give the folder that holds show\.yaml"):
        ShowFolder(tmp_path / "none")
    with pytest.raises(NoShow, match=r"there is no show\.yaml in "):
        ShowFolder(tmp_path)


def test_a_channel_that_has_jumped_is_not_cut_short_by_the_next_cue() -> None:
    head = (
        "cuedeck: 2\nslots: 24\ntypes:\n  spot: {channels: [intensity, {channel: gobo, ranges: {none: 0-7, dots: 8-15},"
        " snap: SNAP}]}\nrig:\n  spot: {type: spot, address: 1.1}\n"
    )
    looks = "looks:\n  a: {spot: {level: full, gobo: dots}}\n  b: {spot: {gobo: none}}\n"
    cues = ("cue: 1, at: 0 s, look: a, fade: 4 s", "cue: 2, at: 3 s, look: b")
    early = opened(show_text(*cues, head=head.replace("SNAP", "middle"), looks=looks)).problems
    late = opened(show_text(*cues, head=head.replace("SNAP", "end"), looks=looks)).problems
    assert early == ()
    assert [problem.what for problem in late] == ["cue 1 fades for 4 s, and cue 2 takes over 'spot' after 3 s"]


def test_a_live_move_lets_positions_wait_for_the_rig_and_knows_no_share_of_it() -> None:
    live = "    move: live\n"
    assert opened(show_text("cue: 1, at: slide 60 mm, look: key", shot=live)).problems == ()
    (problem,) = opened(show_text("cue: 1, at: 40 % of the move, look: key", shot=live)).problems
    assert problem.what == "cue 1 never happens: how long a live move takes, nobody knows before"
