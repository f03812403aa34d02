"""`cuedeck schema` as a user runs it: a schema on standard output, or in a file beside the show."""

from __future__ import annotations

import json
from pathlib import Path

from jsonschema import Draft202012Validator

from cuedeck.show.schema import SCHEMA_FILE, show_schema
from tests.cli.command import run
from tests.cli.test_commands import DEMO
from tests.show.editors import as_an_editor


def test_the_schema_is_printed_as_json() -> None:
    done = run("schema")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout) == show_schema()


def test_a_schema_in_a_file_knows_a_right_show_from_a_wrong_one(tmp_path: Path) -> None:
    file = tmp_path / SCHEMA_FILE
    done = run("schema", "--out", file)
    assert (done.returncode, done.stderr) == (0, "")
    assert "# yaml-language-server: $schema=show.schema.json" in done.stdout
    validator = Draft202012Validator(json.loads(file.read_text(encoding="utf-8")))
    show = (DEMO / "show.yaml").read_text(encoding="utf-8")
    assert list(validator.iter_errors(as_an_editor(show, "YAML 1.2"))) == []
    (error,) = validator.iter_errors(as_an_editor(show.replace("fps: 25", "fsp: 25"), "YAML 1.2"))
    assert "fsp" in error.message


def test_a_file_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    done = run("schema", "--out", tmp_path / "nowhere" / SCHEMA_FILE)
    assert done.returncode == 1
    assert "cannot be written: no such file or directory" in done.stderr
    assert done.stdout == ""
