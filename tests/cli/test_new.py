"""`cuedeck new` as a user runs it: from flags, from defaults, and from questions at a real terminal."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest

from tests.cli.command import arguments, assert_foreseen, run
from tests.waiting import LONGEST_WAIT_S

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are those of POSIX")


@pytest.fixture
def studio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in; nothing is left in it but shows."""
    folder = tmp_path / "studio"
    folder.mkdir()
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))
    monkeypatch.chdir(folder)
    return folder


def left_in(studio: Path) -> list[str]:
    return sorted(path.name for path in studio.iterdir())


def assert_sound(name: str) -> None:
    done = run("check", name)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", f"{name}: 0 errors, 0 warnings\n")


def asked(words: list[str], keys: str) -> tuple[int, str, str]:
    """Run the command at a terminal at which somebody types; return exit code, standard output and what it showed."""
    import pty

    near, far = pty.openpty()
    try:
        with subprocess.Popen(arguments(words), stdin=far, stdout=subprocess.PIPE, stderr=far, text=True) as process:
            os.write(near, keys.encode())  # a terminal keeps what is typed ahead
            out, _ = process.communicate(timeout=LONGEST_WAIT_S)
        os.close(far)
        shown = b""
        try:
            while data := os.read(near, 65536):
                shown += data
        except OSError:
            pass  # the end of a pseudo-terminal, on Linux
    finally:
        os.close(near)
    text = shown.decode("utf-8", "replace").replace("\r\n", "\n")
    assert_foreseen(text)
    return process.returncode, out, text


def test_without_a_terminal_the_defaults_make_a_show_that_runs_at_once(studio: Path) -> None:
    done = run("new", "bottle", "--seconds", "0.5")
    assert (done.returncode, done.stderr) == (0, "")
    assert [line.partition("  ")[0] for line in done.stdout.splitlines()] == [
        "cuedeck check bottle",
        "cuedeck open bottle",
        "cuedeck shoot bottle 1",
    ]
    assert left_in(studio) == ["bottle"]
    assert_sound("bottle")
    shot = run("shoot", "bottle", "1", "--no-countdown")
    assert "slide 340 mm" in shot.stdout
    (take,) = json.loads(run("takes", "bottle", "--json").stdout)
    assert take["slate"] == "1-A"


def test_the_folder_can_be_read_by_others_as_any_new_folder(studio: Path) -> None:
    run("new", "bottle")
    (studio / "plain").mkdir()
    assert (studio / "bottle").stat().st_mode == (studio / "plain").stat().st_mode


def test_flags_say_everything(studio: Path) -> None:
    words = ["--title", "Harrow: no. 7", "--fps", "23.976", "--hertz", "60", "--slider", "0.5", "m"]
    words += ["--turn", "-90", "deg"]
    lights = ["--light", "rim left=dimmer", "--light", "a=b=rgbw", "--light", "top"]
    assert run("new", "bottle", *words, *lights, "--seconds", "2 s").returncode == 0
    assert_sound("bottle")
    text = (studio / "bottle" / "show.yaml").read_text(encoding="utf-8")
    for line in (
        "title: 'Harrow: no. 7'",
        "camera: {fps: 23.976}",
        "mains: {volts: 120, hertz: 60}",
        "  rim left: {type: dimmer, address: 1.1, ",
        "  'a=b': {type: rgbw, address: 1.11, ",
        "  top: {type: two-tone 16-bit, address: 1.21, ",
        "at: slide 0.075 m, look: lit, fade: 0.5 s",
    ):
        assert line in text
    move = (studio / "bottle" / "moves" / "slide.csv").read_text(encoding="utf-8").splitlines()
    assert (move[0], move[-1]) == ("time s,slide mm,turn deg", "2.0,500.000,-90.000")


@pytest.mark.parametrize(
    ("words", "last"),
    [
        (["bottle", "--seconds", "4", "min"], "240.0,"),
        (["bottle", "--seconds", "3"], "3.0,"),
        (["--seconds", "3", "bottle"], "3.0,"),
        (["--seconds", "3", "s", "bottle"], "3.0,"),
        (["--slider", "20", "mm", "bottle"], "4.0,20.000"),
        (["--slider", "20 mm", "bottle", "--seconds", "4"], "4.0,20.000"),
    ],
)
def test_a_value_may_be_two_words_and_the_name_may_stand_behind_it(studio: Path, words: list[str], last: str) -> None:
    assert run("new", *words).returncode == 0
    assert (studio / "bottle" / "moves" / "slide.csv").read_text(encoding="utf-8").splitlines()[-1].startswith(last)


def test_a_name_that_is_missing_is_asked_for(studio: Path) -> None:
    done = run("new", "--slider", "20", "mm")
    assert done.returncode == 2
    assert "NAME is missing: write it first" in done.stderr
    assert left_in(studio) == []


def test_without_an_axis_the_shot_has_no_move(studio: Path) -> None:
    assert run("new", "still", "--slider", "none", "--lights", "9").returncode == 0
    assert_sound("still")
    assert left_in(studio / "still") == ["show.yaml"]
    assert "  light 9: {" in (studio / "still" / "show.yaml").read_text(encoding="utf-8")


def test_enter_takes_every_default(studio: Path) -> None:
    code, out, shown = asked(["new", "my-bottle"], "\n" * 13)
    assert code == 0
    assert "what is filmed [my bottle]: frames a second of the camera [25]: " in shown.replace("\n", "")
    assert out.startswith("cuedeck check my-bottle ")
    assert_sound("my-bottle")
    asked_text = (studio / "my-bottle" / "show.yaml").read_text(encoding="utf-8")
    run("new", "plain", "--title", "my bottle")
    assert asked_text == (studio / "plain" / "show.yaml").read_text(encoding="utf-8")


def test_questions_are_answered_and_wrong_answers_asked_for_again(studio: Path) -> None:
    keys = ["Brass dial", "fast", "24", "55", "50", "2", "key", "5", "key", "back: wall", "no such", "dimmer"]
    keys += ["120", "12 cm", "none", "3"]
    code, _, shown = asked(["new", "dial"], "".join(f"{key}\n" for key in keys))
    assert code == 0
    for wrong in (
        "'fast' is not a frame rate: write frames a second such as 25",
        "'55' is no mains frequency: write 50 or 60",
        "two lights are called 'key'",
        "'no such' is no built-in type",
        "'120' has no unit: write a length such as 120 mm",
    ):
        assert wrong in shown
    assert_sound("dial")
    text = (studio / "dial" / "show.yaml").read_text(encoding="utf-8")
    assert "title: Brass dial" in text
    assert "key: {type: rgb, " in text
    assert "'back: wall': {type: dimmer, " in text


def test_only_what_flags_leave_out_is_asked(studio: Path) -> None:
    words = ["new", "dial", "--title", "a", "--fps", "25", "--hertz", "50", "--lights", "1"]
    words += ["--slider", "none", "--turn", "none"]
    code, _, shown = asked(words, "3\n")
    assert code == 0
    assert "how many seconds it takes [4]: " in shown
    assert shown.count("]: ") == 1
    assert "length: 3 s" in (studio / "dial" / "show.yaml").read_text(encoding="utf-8")


def test_nothing_is_asked_where_the_defaults_are_wanted(studio: Path) -> None:
    code, _, shown = asked(["new", "dial", "--defaults"], "")
    assert (code, shown) == (0, "")
    assert left_in(studio) == ["dial"]


def test_the_end_of_the_questions_makes_nothing(studio: Path) -> None:
    code, out, shown = asked(["new", "dial"], "Brass dial\n\x04")
    assert (code, out) == (1, "")
    assert "stopped before the last question: nothing was made" in shown
    assert left_in(studio) == []


def test_an_empty_folder_is_filled_and_one_with_files_is_left_alone(studio: Path) -> None:
    (studio / "empty").mkdir()
    assert run("new", "empty").returncode == 0
    assert_sound("empty")
    before = (studio / "empty" / "show.yaml").read_bytes()
    done = run("new", "empty", "--fps", "50")
    assert done.returncode == 1
    assert "the folder 'empty' is there already, with files in it" in done.stderr
    assert (studio / "empty" / "show.yaml").read_bytes() == before
    assert left_in(studio) == ["empty"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([""], "'.' is no name for a new folder"),
        ([".."], "'..' is no name for a new folder"),
        (["/"], "'/' is no name for a new folder"),
        (["x" * 300], "cannot be made: file name too long"),
        (["nowhere/bottle"], "there is no folder 'nowhere' to make 'bottle' in: make it first"),
        (["file"], "'file' is there already, and is no empty folder"),
        (["file/bottle"], "there is no folder 'file'"),
        (["bottle", "--fps", "0"], "0 frames a second is out of range: write 1 to 1000"),
        (["bottle", "--hertz", "400"], "'400' is no mains frequency: write 50 or 60"),
        (["bottle", "--lights", "0"], "--lights: '0' is no number of lights: write 1 to 100"),
        (["bottle", "--light", "key=laser"], "--light: 'laser' is no built-in type: write one of 'dimmer'"),
        (["bottle", "--light", "=dimmer"], "a light needs a name"),
        (["bottle", "--light", "everything=dimmer"], "a light cannot be called 'everything'"),
        (["bottle", "--light", "key", "--light", "key=dimmer"], "two lights are called 'key'"),
        (["bottle", "--slider", "340"], "--slider: '340' has no unit: write a length such as 120 mm"),
        (["bottle", "--slider", "0 mm"], "0 mm is out of range: write 1 mm to 100000 mm, or none"),
        (["bottle", "--turn", "9 mm"], "'mm' is no unit for an angle"),
        (["bottle", "--seconds", "4", "fortnights"], "--seconds: 'fortnights' is no unit for a time"),
        (["bottle", "--seconds", "0.1"], "--seconds: 0.1 s is out of range: write 0.5 to 3600 seconds"),
        (["bottle", "--title", "a\nb"], "a title is one line"),
    ],
)
def test_what_cannot_be_made_is_said_in_words_and_leaves_nothing(studio: Path, words: list[str], said: str) -> None:
    (studio / "file").write_text("", encoding="utf-8")
    done = run("new", *words)
    assert done.returncode == 1
    assert said in done.stderr
    assert done.stdout == ""
    assert left_in(studio) == ["file"]


def test_a_write_that_fails_half_way_leaves_nothing(studio: Path) -> None:
    """A file may have 4 KiB here: the show fits, the recording of the move does not."""
    import shlex

    command = " ".join(shlex.quote(word) for word in arguments(["new", "bottle", "--seconds", "60"]))
    limited = f"trap '' XFSZ; ulimit -f 4; exec {command}"
    done = subprocess.run(
        ["bash", "-c", limited], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "the folder 'bottle' cannot be made: file too large" in done.stderr
    assert left_in(studio) == []
