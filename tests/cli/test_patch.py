"""`cuedeck patch` and `cuedeck looks`, as a user types them: sheets on paper, and addresses in the file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cuedeck.cli.main import main

SHOW = """\
cuedeck: 2   # ours
include: types/spots.yaml
rig:
  # hung first
  key:  {type: spot, mode: small, address: 1.1}   # on the boom
  fill: {type: dimmer}
  rim:
    type: rgbw
    address: "1.2"        # too near
looks:
  a: {key: {level: -1 stop, colour: 3200 K -137 mired}, fill: 50 %}
"""
SPOTS = """\
types:
  spot:
    modes:
      small: [intensity, red, green]
      large: [intensity 16-bit]
    emitters: {red: {x: 0.64, y: 0.33, luminance: 21}, green: {x: 0.3, y: 0.6, luminance: 72}}
    tenth switch: "on"
"""

Out = pytest.CaptureFixture[str]


@pytest.fixture
def show(tmp_path: Path) -> Path:
    (tmp_path / "types").mkdir()
    (tmp_path / "types" / "spots.yaml").write_text(SPOTS, encoding="utf-8")
    (tmp_path / "show.yaml").write_text(SHOW, encoding="utf-8")
    return tmp_path


def test_the_sheet_lists_lights_switches_and_spare_slots_and_says_what_is_wrong(show: Path, capsys: Out) -> None:
    assert main(["patch", str(show)]) == 1
    out, err = capsys.readouterr()
    assert [line.split() for line in out.splitlines()[:3]] == [
        ["address", "light", "type", "slots", "switches", "on"],
        ["1.1", "key", "spot,", "small", "1-3", "1........", "10", "on"],
        ["1.2", "rim", "rgbw", "2-5", ".2......."],
    ]
    assert "universe 1: 5 slots used, 507 spare (6-512)" in out
    assert "'fill' has no address" in err
    assert "'rim' and 'key' both listen to slot 1.2" in err


def test_a_single_slot_is_written_as_one_number(show: Path, capsys: Out) -> None:
    lights = "a: {type: dimmer, address: 1.1}, b: {type: dimmer, address: 1.20}, c: {type: rgb, address: 1.22}"
    (show / "show.yaml").write_text(f"cuedeck: 2\nrig: {{{lights}}}\n", encoding="utf-8")
    assert main(["patch", str(show)]) == 0
    out = capsys.readouterr().out
    assert [line.split()[3] for line in out.splitlines()[1:4]] == ["1", "20", "22-24"]
    assert "spare (2-19, 21, 25-512)" in out


def test_slots_are_listed_where_asked(show: Path, capsys: Out) -> None:
    main(["patch", str(show), "--slots"])
    assert "  3        green" in capsys.readouterr().out


def test_the_sheet_can_be_had_as_data(show: Path, capsys: Out) -> None:
    main(["patch", str(show), "--json"])
    sheet = json.loads(capsys.readouterr().out)
    assert sheet["lights"][0]["slots"] == [
        {"slot": 1, "carries": "intensity"},
        {"slot": 2, "carries": "red"},
        {"slot": 3, "carries": "green"},
    ]
    assert sheet["universes"] == [{"universe": 1, "used": 5, "spare": 507, "spare_slots": [[6, 512]]}]


def test_addresses_are_proposed_and_nothing_is_written_unasked(show: Path, capsys: Out) -> None:
    assert main(["patch", str(show), "--auto", "--gap", "1"]) == 0
    out, err = capsys.readouterr()
    assert [line.split() for line in out.splitlines()] == [
        ["light", "before", "proposed"],
        ["fill", "none", "1.5"],
        ["rim", "1.2", "1.7"],
    ]
    assert "nothing was written: add --write" in err
    assert (show / "show.yaml").read_text(encoding="utf-8") == SHOW


def test_writing_addresses_changes_nothing_else_in_the_file(show: Path, capsys: Out) -> None:
    assert main(["patch", str(show), "--auto", "--write"]) == 0
    assert (show / "show.yaml").read_text(encoding="utf-8") == SHOW.replace(
        "fill: {type: dimmer}", "fill: {type: dimmer, address: 1.4}"
    ).replace('"1.2"', '"1.5"')
    assert [path.read_text(encoding="utf-8") for path in (show / ".versions" / "show.yaml").iterdir()] == [SHOW]
    capsys.readouterr()
    assert main(["patch", str(show)]) == 0
    assert main(["patch", str(show), "--auto"]) == 0
    assert "every light has an address of its own" in capsys.readouterr().err


def test_words_about_addressing_need_auto(show: Path, capsys: Out) -> None:
    assert main(["patch", str(show), "--write"]) == 1
    assert "add --auto" in capsys.readouterr().err


def test_a_light_shared_by_reference_is_not_changed_behind_the_users_back(show: Path, capsys: Out) -> None:
    text = "cuedeck: 2\nrig:\n  a: &lamp {type: dimmer}\n  b: *lamp\n"
    (show / "show.yaml").write_text(text, encoding="utf-8")
    assert main(["patch", str(show), "--auto", "--write"]) == 1
    assert "is shared" in capsys.readouterr().err
    assert (show / "show.yaml").read_text(encoding="utf-8") == text


def test_looks_are_told_in_numbers(show: Path, capsys: Out) -> None:
    (show / "show.yaml").write_text(SHOW.replace('address: "1.2"', "address: 1.9"), encoding="utf-8")
    main(["looks", str(show), "a", "--json"])
    (row,) = json.loads(capsys.readouterr().out)
    # 3200 K through a full blue correction filter of -137 mired is 5698 K (generic filter; mired arithmetic), and
    # red and green alone cannot mix it: the nearest lies on the line between them.
    assert (row["light"], row["stops"], row["colour"]) == ("key", -1.0, "3200 K -137 mired")
    assert row["distance_uv"] > 0.01
    x, y = row["reached_xy"]
    assert (x - 0.3) / (0.64 - 0.3) == pytest.approx((y - 0.6) / (0.33 - 0.6), abs=1e-9)


TUBE = """\
cuedeck: 2
types:
  tube:
    channels: [intensity, red, green, blue]
    emitters:
      red: {x: 0.64, y: 0.33, luminance: 0.2126}
      green: {x: 0.30, y: 0.60, luminance: 0.7152}
      blue: {x: 0.15, y: 0.06, luminance: 0.0722}
rig: {tube: {type: tube, address: 1.1}}
looks: {a: {tube: {level: full, colour: COLOUR}}}
"""
"""Emitters of IEC 61966-2-1, as quoted in an ICC note."""


@pytest.mark.parametrize(
    ("colour", "reached"),
    [
        # D65 is 6504 K, Duv +0.0032 (Ohno 2013; computed with colour-science 0.4.7, see reference: CCT/Duv).
        ("sRGB 255 255 255", "xy 0.3127 0.3290, 6503 K  +0.0032"),
        ("xy 0.3127 0.329", "xy 0.3127 0.3290, 6504 K  +0.0032"),
        ("sRGB 255 32 0", "xy 0.6312 0.3370"),
        ("sRGB 70 120 255", "xy 0."),
        ("5600 K", "5600 K"),
    ],
)
def test_a_colour_is_told_as_a_point_and_as_a_white_only_where_it_was_one_or_comes_near(
    show: Path, capsys: Out, colour: str, reached: str
) -> None:
    (show / "show.yaml").write_text(TUBE.replace("COLOUR", colour), encoding="utf-8")
    assert main(["looks", str(show)]) == 0
    (row,) = capsys.readouterr().out.splitlines()[1:]
    is_white = "K" in reached
    assert f"  {reached}" in row.removeprefix("a     tube   100.0 %  0.00 stop  ").removeprefix(colour)
    assert row.count(" K") == is_white + (colour == "5600 K")
    main(["looks", str(show), "--json"])
    (data,) = json.loads(capsys.readouterr().out)
    assert (data["reached_kelvin"] is not None) == is_white


@pytest.mark.parametrize("emitters", ["", "red", "red, green, blue"])
def test_the_primaries_by_which_hue_and_saturation_are_judged_are_told(show: Path, capsys: Out, emitters: str) -> None:
    """Those of sRGB (IEC 61966-2-1) where the type does not say all three of its own."""
    own = {"red": "{x: 0.69, y: 0.31, luminance: 20}", "green": "{x: 0.17, y: 0.70, luminance: 60}",
           "blue": "{x: 0.14, y: 0.05, luminance: 6}"}  # fmt: skip
    said = ", ".join(f"{name}: {own[name]}" for name in emitters.split(", ") if name)
    channels = ", ".join(["intensity", "hue", "saturation", *(name for name in emitters.split(", ") if name)])
    kind = f"{{channels: [{channels}]" + (f", emitters: {{{said}}}}}" if said else "}")
    rig = "rig: {wall: {type: wash, address: 1.1}}\nlooks: {a: {wall: {colour: 5600 K}}}\n"
    text = f"cuedeck: 2\ntypes: {{wash: {kind}}}\n{rig}"
    (show / "show.yaml").write_text(text, encoding="utf-8")
    main(["looks", str(show)])
    told = capsys.readouterr().out.splitlines()[-1]
    is_own = emitters.count(",") == 2
    assert told.startswith("hue and saturation of 'wall' are judged by ")
    assert ("sRGB" in told) != is_own
    main(["looks", str(show), "--json"])
    (row,) = json.loads(capsys.readouterr().out)
    assert row["primaries"] == ("its own" if is_own else "sRGB")


def test_an_unknown_look_is_told_the_nearest(show: Path, capsys: Out) -> None:
    assert main(["looks", str(show), "aa"]) == 1
    assert "the show has no look 'aa'" in capsys.readouterr().err
