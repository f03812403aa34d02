"""The readings of a calibration on disk: they come back, and a spoilt file is said to be one."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from cuedeck.errors import Refusal
from cuedeck.folder.calibrations import CalibrationFile
from cuedeck.rig.calibration import Calibration, parse_reading

LEVELS = (Fraction(0), Fraction(1, 40), Fraction(1, 2), Fraction(1))


def some() -> Calibration:
    calibration = Calibration(LEVELS).with_reading(parse_reading("5210 lux")).with_reading(parse_reading("0.35"))
    return calibration.skipped()


def test_readings_come_back_as_they_were(tmp_path: Path) -> None:
    kept = CalibrationFile(tmp_path, "key")
    assert kept.load() is None
    for calibration in (Calibration(LEVELS), some(), some().with_reading(parse_reading("1300"))):
        kept.save(calibration)
        assert kept.load() == calibration
        assert CalibrationFile(tmp_path, "key").load() == calibration


@pytest.mark.parametrize("name", ["rim left", "../../elsewhere", "..", "a/b", 'q"uote', "Übersicht", "50%", "#1: x"])
def test_any_name_of_a_light_makes_a_file_in_the_hidden_folder(tmp_path: Path, name: str) -> None:
    kept = CalibrationFile(tmp_path, name)
    kept.save(some())
    assert [path.parent for path in tmp_path.rglob("*.yaml")] == [tmp_path / ".calibration"]
    assert kept.load() == some()


def test_lights_do_not_share_a_file(tmp_path: Path) -> None:
    names = ["a.b", "a%2eb", "a/b", "a b"]
    assert len({CalibrationFile(tmp_path, name).path for name in names}) == len(names)


def test_nothing_is_left_once_readings_are_forgotten(tmp_path: Path) -> None:
    key, rim = CalibrationFile(tmp_path, "key"), CalibrationFile(tmp_path, "rim")
    key.save(some())
    rim.save(some())
    key.discard()
    assert key.load() is None
    assert rim.load() == some()
    rim.discard()
    rim.discard()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"readings: [1",
        b"levels: [0 %, 50 %, 100 %]\nunit: ''\n",
        b"levels: [0 %, 50 %, 100 %]\nunit: ''\nreadings: 12\n",
        b"levels: [0 %, 50 %, 100 %]\nunit: ''\nreadings: [100, 0, 200]\n",
        b"levels: [0 %, 50 %, 100 %]\nunit: ''\nreadings: [100, 0, 50, 100, 7]\n",
        b"levels: [0 %, 50 %]\nunit: ''\nreadings: []\n",
        b"levels: [50 %, 0 %, 100 %]\nunit: ''\nreadings: []\n",
        b"levels: []\nunit: ''\nreadings: []\n",
        b"levels: [0 %, 50 %, 100 %]\nunit: ''\nreadings: [skipped]\n",
        b"\xff\xfe\x00",
    ],
)
def test_a_spoilt_file_is_refused_with_a_cure(tmp_path: Path, content: bytes) -> None:
    kept = CalibrationFile(tmp_path, "key")
    kept.save(some())
    kept.path.write_bytes(content)
    with pytest.raises(Refusal, match="begin anew with --restart"):
        kept.load()


def test_a_folder_that_cannot_be_written_is_said_to_be_one(tmp_path: Path) -> None:
    (tmp_path / ".calibration").write_text("in the way", encoding="utf-8")
    with pytest.raises(Refusal, match="cannot be written: "):
        CalibrationFile(tmp_path, "key").save(some())
