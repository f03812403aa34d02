"""What is only missing because something else could not be read is not reported: its cure would do harm."""

from __future__ import annotations

import pytest

from tests.timeline.shows import opened

CHANNELS = "red, green, blue, {channel: strobe, ranges: {open: 0-10, slow to fast: 11-255}, default: open}"
SHOW = f"""\
cuedeck: 2
mains: {{circuits: {{wall: 16 A}}}}
types:
  spot:
    modes:
      small: [intensity, {CHANNELS}]
      large: [intensity 16-bit, {CHANNELS}]
    emitters:
      red: {{x: 0.69, y: 0.31, luminance: 20}}
      green: {{x: 0.17, y: 0.70, luminance: 60}}
      blue: {{x: 0.14, y: 0.05, luminance: 6}}
  blower: {{channels: [{{channel: fan, default: 30 %}}]}}
rig:
  key: {{type: spot, mode: small, address: 1.1, circuit: wall}}
  rim: {{type: spot, mode: small, address: 1.11}}
  blower: {{type: blower, address: 1.30}}
groups:
  spots: [key, rim]
looks:
  house warm: {{spots: -1 stop}}
  first: {{key: {{level: full, colour: 5600 K, strobe: open}}}}
  second: {{spots: {{level: full, colour: sRGB 255 128 0, strobe: slow to fast}}, blower: {{fan: 20 %}}}}
  third: {{like: house warm, everything: {{strobe: open}}, key: -1 stop}}
  fourth: {{rim: {{colour: 3200 K}}}}
shots:
  1:
    cues:
      - {{cue: 1, at: 0 s, look: first}}
      - {{cue: 2, after: 1, look: second}}
      - {{cue: 3, after: 2, look: third, fade: 1.5 s}}
"""


def told(*changes: tuple[str, str]) -> list[tuple[str, str]]:
    """Return words and cures of the problems of the show with some texts in it exchanged."""
    text = SHOW
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return [(problem.what, problem.cure) for problem in opened(text).problems]


def test_the_show_has_no_fault_before() -> None:
    assert told() == []


@pytest.mark.parametrize(
    ("old", "new", "what", "cure"),
    [
        ("groups:", "group:", "unknown key 'group'", "write 'groups'"),
        ("looks:", "look:", "unknown key 'look'", "write 'looks'"),
        ("rig:", "rigs:", "unknown key 'rigs'", "write 'rig'"),
        ("types:", "typs:", "unknown key 'typs'", "write 'types'"),
        ("mains:", "main:", "unknown key 'main'", "write 'mains'"),
        ("circuits:", "circuit:", "unknown key 'circuit'", "write 'circuits'"),
        (
            "groups:\n  spots: [key, rim]",
            "groups: 5",
            "'groups' is not a mapping of keys to values",
            "write 'groups:' with",
        ),
        ("cuedeck: 2", "cuedeck: 2\ninclude:", "'include' is empty", "write 'include: [looks/common.yaml]'"),
        ("luminance: 20", "luminence: 20", "unknown key 'luminence'", "write 'luminance'"),
        ("x: 0.69", "x: 0.69 nm", "'0.69 nm' is not a number", "write a number such as 25 or 0.5"),
        ("emitters:", "emiters:", "unknown key 'emiters'", "write 'emitters'"),
        ("modes:", "mods:", "unknown key 'mods'", "write 'modes'"),
        (
            "type: spot, mode: small, address: 1.1,",
            "type: spot, address: 1.1,",
            "'key' is of type 'spot'",
            "add the one",
        ),
        ("mode: small, address: 1.1,", "mode: smal, address: 1.1,", "the type 'spot' of 'key'", "write 'small'"),
        ("[intensity, red", "[intensty, red", "'intensty' is not a channel", "write 'intensity'"),
        ("small: [intensity", "small: [intensity, rd", "'rd' is not a channel", "write 'red'"),
        ("small: [intensity", "small: 5 #", "'small' is not a list", "write 'small:' with lines"),
        ("fan, default: 30 %", "fan, default: 300 %", "300 % is out of range", "write a percentage"),
        ("rim: {type: spot, ", "rim: {tipe: spot, ", "unknown key 'tipe'", "write 'type'"),
        ("{cue: 1, at", "{ceu: 1, at", "unknown key 'ceu'", "write 'cue'"),
        ("{cue: 1, at: 0 s", "{cue: 1, att: 0 s", "unknown key 'att'", "write 'at'"),
    ],
)
def test_one_slip_is_one_problem(old: str, new: str, what: str, cure: str) -> None:
    ((found, its_cure),) = told((old, new))
    assert found.startswith(what)
    assert its_cure.startswith(cure)


def test_a_mistyped_default_is_told_of_in_each_mode_and_nothing_else_is() -> None:
    found = told(("default: open", "default: opn"))
    assert found == [("the channel 'strobe' has no range 'opn'", "write 'open'")] * 2


def test_a_fault_in_a_type_hides_no_fault_of_a_look_that_has_nothing_to_do_with_it() -> None:
    found = told(
        ("luminance: 20", "luminence: 20"), ("fan: 20 %", "fun: 20 %"), ("strobe: open}}\n", "strob: open}}\n")
    )
    assert [what for what, _ in found] == [
        "unknown key 'luminence'",
        "'key' is of type 'spot' and has no channel 'strob'",
        "'blower' is of type 'blower' and has no channel 'fun'",
    ]


def test_a_missing_group_hides_no_misspelt_light_once_its_section_is_read() -> None:
    found = told(("  fourth: {rim", "  fourth: {rimm"))
    assert found == [("look 'fourth' names 'rimm', and no light or group is called that", "write 'rim'")]


@pytest.mark.parametrize("level", ["level: 120 %", "level: ", "120 %"])
def test_a_level_that_could_not_be_read_does_not_leave_a_light_dark(level: str) -> None:
    text = SHOW.replace("spots: -1 stop", "spots: out").replace("{level: full, colour: sRGB", "{colour: sRGB")
    assert [problem.what for problem in opened(text).problems] == [
        "'rim' is given a colour, and no look gives it a level: it stays dark"
    ]
    written = level if level.endswith("0 %") and ":" not in level else f"{{{level}}}"
    text = text.replace("looks:\n", f"looks:\n  zeroth: {{rim: {written}}}\n")
    assert all("stays dark" not in problem.what for problem in opened(text).problems)


# A name that is not known, and what stands under it.


@pytest.mark.parametrize(
    ("old", "new", "name", "cure"),
    [
        ("{like: house", "{lik: house", "lik", "write 'like'"),
        ("everything: {strobe: open}", "everythng: {strobe: 40 K, level: }", "everythng", "write 'everything'"),
        ("key: -1 stop", "kye: 45", "kye", "write 'key'"),
        ("key: -1 stop", "key:-1 stop", "key:-1 stop", "put a space after the colon: 'key: -1 stop'"),
        ("key: -1 stop", "key: -0,5 stop", "5 stop", "write numbers with a point: '-0.5 stop'"),
    ],
)
def test_a_name_that_is_not_known_is_told_of_rather_than_what_stands_under_it(
    old: str, new: str, name: str, cure: str
) -> None:
    found = [(what, its_cure) for what, its_cure in told((old, new)) if "no unit" not in what]
    assert found == [(f"look 'third' names '{name}', and no light or group is called that", cure)]


def test_what_gives_no_light_is_not_asked_for_a_level() -> None:
    found = told(("blower: {fan: 20 %}", "blower: {fan: 40 %, colour: 5600 K}"))
    assert found == [("'blower' is of type 'blower' and has no colour", "take it out")]
