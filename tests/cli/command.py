"""The command as a user gives it: in this process, or in one of its own where signals, terminals or limits matter."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import IO, Any, TextIO

from cuedeck.cli.main import main
from tests.waiting import LONGEST_WAIT_S, wait_until

Done = subprocess.CompletedProcess[str]


def arguments(words: Sequence[str | Path]) -> list[str]:
    """Return what starts the command as a process."""
    return [sys.executable, "-m", "cuedeck", *(str(word) for word in words)]


def run(*words: str | Path, typed: str | None = None) -> Done:
    """Run the command with no keyboard, or with a text piped in, and see that it never fails in an unforeseen way.

    It runs in this process, which costs a tenth of a start, with streams that encode as those of a process do. So
    it may meet the player of the command before as that ends, and then does as it is told: it tries again.
    """
    tried: list[Done] = []

    def is_done() -> bool:
        tried[:] = [_run(words, typed)]
        return "the player is just ending: try again" not in tried[0].stderr

    wait_until(is_done)
    return _foreseen(tried[0])


def _run(words: Sequence[str | Path], typed: str | None) -> Done:
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="\n") for _ in range(2))
    with _standard_input(typed), redirect_stdout(out), redirect_stderr(err):
        try:
            code = main([str(word) for word in words])
        except SystemExit as end:  # argparse ends so
            code = end.code if isinstance(end.code, int) else 1
    return Done(arguments(words), code, _text(out), _text(err))


def run_process(*words: str | Path, environment: dict[str, str] | None = None) -> Done:
    """Run the command as a process of its own, with no keyboard."""
    return _foreseen(
        subprocess.run(
            arguments(words),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            encoding="utf-8",
            env=environment,
            timeout=LONGEST_WAIT_S,
            check=False,
        )
    )


@contextmanager
def started(*words: str | Path, **streams: Any) -> Iterator[subprocess.Popen[str]]:
    """Start the command as a process, with pipes where no stream is given, and end it with the test at the latest."""
    pipes = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(arguments(words), text=True, encoding="utf-8", **(pipes | streams)) as process:
        giving_up = threading.Timer(LONGEST_WAIT_S, process.kill)  # whoever reads what it says is at its end then
        giving_up.start()
        try:
            yield process
        finally:
            giving_up.cancel()
            process.kill()


def read_until(stream: IO[str] | None, words: str) -> str:
    """Read what a process says until some words have come, and return it."""
    assert stream is not None
    said = ""
    while words not in said:
        part = stream.read(1)
        assert part, f"it ended without {words!r}:\n{said}"
        said += part
    return said


def finished(process: subprocess.Popen[str], typed: str | None = None) -> tuple[int, str, str]:
    """Wait for the end of a process; return its exit code, and what it says from here on."""
    out, err = process.communicate(typed, timeout=LONGEST_WAIT_S)
    assert_foreseen(err or "")
    return process.returncode, out, err


def assert_foreseen(stderr: str) -> None:
    """See that nothing came out that no user is meant to see."""
    assert "Traceback" not in stderr
    assert "internal error" not in stderr


def _foreseen(done: Done) -> Done:
    assert_foreseen(done.stderr)
    return done


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8")


@contextmanager
def _standard_input(typed: str | None) -> Iterator[None]:
    """Put a pipe with a text in the place of standard input, or nothing at all."""
    before = sys.stdin
    with _pipe(typed) if typed is not None else Path(os.devnull).open(encoding="utf-8") as stream:
        sys.stdin = stream
        try:
            yield
        finally:
            sys.stdin = before
            for thread in threading.enumerate():
                if thread.name == "keyboard":  # it reads on until the end of what was typed
                    thread.join(LONGEST_WAIT_S)


def _pipe(text: str) -> TextIO:
    near, far = os.pipe()
    with os.fdopen(far, "w", encoding="utf-8") as pipe:
        pipe.write(text)  # the system keeps 64 KiB of it
    return os.fdopen(near, encoding="utf-8")
