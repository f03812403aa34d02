"""Every text that comes from outside, through every way in, to what a terminal gets.

What counts as a control or format character is said by the Unicode Character Database (UAX #44, General_Category), and
which sequences command a terminal by ECMA-48.
"""

from __future__ import annotations

import ast
import asyncio
import contextlib
import io
import json
import os
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial.tools.list_ports
from rich.cells import cell_len
from serial.tools.list_ports_common import ListPortInfo
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from cuedeck.cli.main import COMMANDS, main
from cuedeck.clock import ManualClock
from cuedeck.player.channel.events import LastTake, Notice, OutputState, Snapshot
from cuedeck.tui.app import CuedeckApp
from cuedeck.tui.base_app import BaseApp
from cuedeck.tui.player_line import PlayerNews
from cuedeck.tui.player_link import PlayerLink
from cuedeck.tui.player_side import PlayerSide
from cuedeck.visible import visible, visible_line
from tests.folder.spoiled import HOSTILE, NAME, Terminal, commanding, whole
from tests.rig.gdtf.gdtf_files import RICH, write_gdtf
from tests.tui.shows import opened
from tests.waiting import wait_on_screen

ROOT = Path(__file__).parent.parent / "cuedeck"
OTHERS = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def test_every_character_is_shown_as_one_that_commands_and_hides_nothing() -> None:
    every = "".join(map(chr, range(sys.maxunicode + 1)))
    for shown in (visible(every), visible_line(every)):
        assert len(shown) == len(every)
        assert {one for one in shown if unicodedata.category(one) in OTHERS} <= {"\n", "\t"}
        assert cell_len("".join(set(shown) - {"\n", "\t"}))  # each has a width that is known
    assert "\n" not in visible_line(every)
    assert "\t" not in visible_line(every)


def test_what_can_be_read_stays_as_it_is() -> None:
    text = "Wärme 3200 K, ½ stop, 下手 ▁▂▃ 🎬 é\nsecond line\tand a column"
    assert visible(text) == text


def test_a_control_character_is_shown_by_its_picture_and_takes_one_cell() -> None:
    assert visible("a\x1b[2J\x07\x7fb") == "a␛[2J␇␡b"
    assert visible("a\x9b\u202e\u200b\U000e0041b") == "a\ufffd\ufffd\ufffd\ufffdb"
    assert visible_line("one\ntwo\r\u2028") == "one two  "
    assert cell_len(visible("\x1b\x07\x7f\x9b\u202e")) == 5


# The command line.


def told(arguments: list[str]) -> str:
    """Return all that a command prints."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n")
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out), contextlib.suppress(SystemExit):
        main(arguments)
    out.flush()
    assert isinstance(out.buffer, io.BytesIO)
    return out.buffer.getvalue().decode()


@pytest.fixture
def show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    whole(tmp_path / "show")
    return tmp_path / "show"


@pytest.mark.usefixtures("show")
@pytest.mark.parametrize("command", [command for command in COMMANDS if command != "bench"])
@pytest.mark.parametrize(
    "words",
    [
        [HOSTILE],
        ["show", HOSTILE],
        ["show", "1", HOSTILE],
        [f"--{HOSTILE}"],
        ["show", "note", HOSTILE, "x"],
        ["show", "1", "--to", f"serial:{HOSTILE}"],
        ["show", "1", "--to", HOSTILE],
        ["show", "1", "--chase", f"midi:{HOSTILE}", "--no-countdown"],
        ["show", "1", "--out", f"{HOSTILE}.csv"],
        ["show", "1", "--speed", HOSTILE],
        ["show", HOSTILE, "--defaults"],
        ["read", HOSTILE],
    ],
)
def test_what_was_typed_is_said_again_without_harm(command: str, words: list[str]) -> None:
    if command == "step" and "--to" in words:
        pytest.skip("it leaves a player behind, which a terminal of its own would end")
    said = told([command, *words])
    assert commanding(said.encode()) == []


@pytest.mark.usefixtures("show")
def test_a_name_with_every_control_character_is_said_without_harm() -> None:
    controls = OTHERS - {"Cn", "Co"}
    every = "".join(chr(code) for code in range(1, sys.maxunicode + 1) if unicodedata.category(chr(code)) in controls)
    said = told(["check", every])
    assert "there is no folder" in said
    assert commanding(said.encode()) == []


def test_a_note_of_a_take_and_what_was_fired_cannot_command_the_terminal(show: Path) -> None:
    import sqlite3

    database = sqlite3.connect(show / "takes.sqlite")
    database.execute("update take set note = ?, fired = ?", (HOSTILE, json.dumps([[HOSTILE, 1]])))
    database.commit()
    database.close()
    said = told(["takes", "show"])
    assert "␛]52;c;aGFja2Vk␇" in said
    assert commanding(said.encode()) == []


def test_what_is_printed_as_json_is_what_stands_in_the_file(show: Path) -> None:
    text = (show / "show.yaml").read_text(encoding="utf-8").replace("wall", '"wa\u200bll"')
    (show / "show.yaml").write_text(text, encoding="utf-8")
    said = told(["check", "show", "--json"])
    assert commanding(said.encode()) == []
    assert told(["schema"]) == "".join(one for one in told(["schema"]) if one.isprintable() or one in "\n\t")
    assert json.loads(said)["show"] == "show"
    odd = f"show{HOSTILE}".replace("/", "")
    show.rename(show.with_name(odd))
    said = told(["check", odd, "--json"])
    assert said.isascii()
    assert json.loads(said)["show"] == odd


def test_an_adapter_with_a_hostile_serial_number_is_listed_without_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    port = ListPortInfo("/dev/ttyUSB0", skip_link_detection=True)
    port.description = port.manufacturer = port.serial_number = port.location = HOSTILE
    monkeypatch.setattr(serial.tools.list_ports, "comports", lambda: [port])
    said = told(["ports"])
    assert "serial number: ␛]52;c;" in said
    assert commanding(said.encode()) == []
    assert json.loads(told(["ports", "--json"]))[0]["serial_number"] == HOSTILE


def test_a_gdtf_file_with_hostile_names_is_shown_without_harm(tmp_path: Path) -> None:
    hiding = HOSTILE.translate({code: None for code in (*range(32), 0xFFFE, 0xFFFF) if chr(code) not in "\t\n\r"})
    content = (
        RICH.decode().replace("deep red chip", hiding.replace("\r", "")).replace('Name="Cells"', f'Name="{hiding}"')
    )
    path = write_gdtf(tmp_path, content.encode(), f"{NAME}.gdtf")
    said = told(["fixture", "show", str(path)])
    assert commanding(said.encode()) == []


@pytest.mark.skipif(os.name != "posix", reason="a pseudo-terminal is one of POSIX")
@pytest.mark.parametrize(
    "name", ["TERM", "COLUMNS", "NO_COLOR", "USER", "LOGNAME", "LANG", "COLORTERM", "TEXTUAL_THEME"]
)
@pytest.mark.usefixtures("show")
def test_a_hostile_environment_does_no_harm(tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(name, HOSTILE)
    terminal = Terminal(["check", "show"], tmp_path)
    code = terminal.run([], 60)
    terminal.end()
    assert code == 0
    assert commanding(terminal.drawn) == []


# No other way out.


def reached(tree: ast.AST) -> Iterator[str]:
    """Yield what a module uses that reaches a terminal past what `print` goes through."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            name = f"{ast.unparse(node.value)}.{node.attr}"
            if name in ("sys.__stdout__", "sys.__stderr__", "os.write", "sys.stdout.buffer", "sys.stderr.buffer"):
                yield name
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func).split(".")[-1]
            if called in ("Console", "Live", "from_markup", "from_ansi", "stream_to_draw_on", "print_exception_rich"):
                yield called


KNOWN_WAYS = {
    "cli/view.py": {"Console", "Live", "stream_to_draw_on"},
    "cli/timecode.py": {"stream_to_draw_on"},
    "bench/terminal.py": {"os.write"},  # to the keyboard of a terminal that it made
}


def test_nothing_reaches_a_terminal_past_the_streams_that_make_text_visible() -> None:
    """`cli/view.py` draws with Rich, and `cli/timecode.py` writes numbers of its own over one another."""
    for path in ROOT.rglob("*.py"):
        name = path.relative_to(ROOT).as_posix()
        ways = set(reached(ast.parse(path.read_text(encoding="utf-8"))))
        assert ways <= KNOWN_WAYS.get(name, {"stream_to_draw_on"} if name == "terminal.py" else set()), name


@pytest.mark.parametrize("module", ["cli/main.py", "player/__main__.py"])
def test_every_process_prints_through_the_streams_that_make_text_visible(module: str) -> None:
    assert "with visible_output():" in (ROOT / module).read_text(encoding="utf-8")


# The screen.


def drawn(app: BaseApp) -> list[str]:
    """Return the lines that go to the terminal; each is as wide as it was laid out."""
    strips = app.screen._compositor.render_strips()
    lines = ["".join(segment.text for segment in strip if not segment.control) for strip in strips]
    assert {cell_len(line) for line in lines} == {app.size.width}
    return lines


class Anything(BaseApp):
    """Widgets that were given text as it came."""

    def compose(self) -> ComposeResult:
        yield Static(Content(f"start {HOSTILE} end"))
        yield Input(HOSTILE)
        one = OptionList(Option(Content(HOSTILE)))
        one.border_title = Content(HOSTILE).plain.replace("[", "(")
        yield one

    def on_mount(self) -> None:
        self.notify(HOSTILE, markup=False)


def test_no_widget_lets_a_control_character_through_to_the_terminal() -> None:
    async def run() -> None:
        app = Anything()
        async with app.run_test(size=(100, 24)) as pilot:
            await wait_on_screen(pilot, lambda: any(line.startswith("start ") for line in drawn(app)))
            lines = drawn(app)
            assert all(line.isprintable() for line in lines), [line for line in lines if not line.isprintable()]

    asyncio.run(run())


def test_nothing_that_a_player_says_commands_the_terminal_or_is_read_as_markup(tmp_path: Path) -> None:
    """Outputs carry names of adapters and of machines that were heard; a priority is a text of the system."""
    words = f"[bold]{HOSTILE}[/x] [@click=app.quit]"[:200]
    output = OutputState(name=words, is_lost=True, why=words)
    last = LastTake(slate=words, status=words, was_watched=False)
    snapshot = Snapshot(
        state="idle", shot=words, slate=words, chased=words, next_cue=words, outputs=(output,), last_take=last,
        show_problem=words, priority=words, fired=((words, 1),),
    )  # fmt: skip

    async def run() -> None:
        app = CuedeckApp("folder" + words, opened(), ManualClock())
        app.player = PlayerSide(PlayerLink(tmp_path, is_watching=True), [])
        async with app.run_test(size=(120, 40)) as pilot:
            for news in (snapshot, Notice(text=words)):
                app.on_player_news(PlayerNews(news))
                app.say(words)
                app.say(words, is_warning=True)
                await pilot.pause()
                lines = drawn(app)
                assert all(line.isprintable() for line in lines), [line for line in lines if not line.isprintable()]
            assert any("[bold]␛]52;" in line for line in lines)

    asyncio.run(run())
