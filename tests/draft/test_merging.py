"""Two changes of one file, ours and another program's."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from cuedeck.draft.merging import MergeRefused, Preference, merged, place_in_words
from tests.tools import times

BASE = b"""cuedeck: 2   # a comment that stays
rig:
  key: {type: dimmer, address: 1.1}
looks:
  lit: {key: 50 %}   # metered
  dark: {everything: out}
shots:
  "1":
    cues:
      - {cue: 1, at: 0 s, look: dark}
      - {cue: 2, at: 2 s, look: lit, fade: 1 s}
      - {cue: 3, at: 6 s, look: dark, fade: 1 s}
"""


def with_change(*pairs: tuple[str, str]) -> bytes:
    text = BASE.decode()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text.encode()


def both(ours: bytes, theirs: bytes) -> str:
    return merged("show.yaml", BASE, ours, theirs).decode()


def test_changes_of_different_values_are_both_made_and_their_comments_stay() -> None:
    """Theirs is the text, ours the values."""
    ours = with_change(("fade: 1 s", "fade: 1.5 s"))
    theirs = with_change(("50 %}   # metered", "55 %}   # metered again"))
    expected = (
        BASE.decode().replace("fade: 1 s", "fade: 1.5 s", 1).replace("50 %}   # metered", "55 %}   # metered again")
    )
    assert both(ours, theirs) == expected


def test_where_one_side_changed_nothing_the_other_is_taken_byte_for_byte() -> None:
    """Its comments and blanks too."""
    other = BASE + b"# the end\n"
    assert merged("show.yaml", BASE, BASE, other) == other
    assert merged("show.yaml", BASE, other, BASE) == other


def test_a_cue_is_known_by_its_name_wherever_it_stands_now() -> None:
    """They added a cue before it, we changed its fade."""
    ours = with_change(("look: dark, fade: 1 s", "look: dark, fade: 3 s"))
    theirs = with_change(("      - {cue: 2,", "      - {cue: 1.5, at: 1 s, look: lit}\n      - {cue: 2,"))
    assert "{cue: 3, at: 6 s, look: dark, fade: 3 s}" in both(ours, theirs)
    assert "{cue: 1.5, at: 1 s, look: lit}" in both(ours, theirs)


def test_a_cue_of_ours_is_added_beside_what_they_changed() -> None:
    """In its place."""
    ours = with_change(("      - {cue: 3,", "      - {cue: 2.5, at: 4 s, look: lit}\n      - {cue: 3,"))
    theirs = with_change(("at: 6 s", "at: 7 s"))
    lines = both(ours, theirs).splitlines()
    assert [line.split(",")[0].strip() for line in lines[-4:]] == ["- {cue: 1", "- {cue: 2", "- {cue: 2.5", "- {cue: 3"]
    assert "at: 7 s" in lines[-1]


def test_a_cue_that_we_took_out_is_taken_out_of_theirs() -> None:
    """The others stay."""
    ours = with_change(("      - {cue: 2, at: 2 s, look: lit, fade: 1 s}\n", ""))
    theirs = with_change(("at: 6 s", "at: 7 s"))
    assert "cue: 2" not in both(ours, theirs)
    assert "at: 7 s" in both(ours, theirs)


@pytest.mark.parametrize(
    ("ours", "theirs", "where"),
    [
        (("50 %", "60 %"), ("50 %", "70 %"), "look lit, key"),
        (("fade: 1 s", "fade: 2 s"), ("fade: 1 s", "fade: 3 s"), "shot 1, cue 2, fade"),
        (
            ("      - {cue: 2, at: 2 s, look: lit, fade: 1 s}\n", ""),
            ("fade: 1 s", "fade: 3 s"),
            "shot 1, cue 2",
        ),
    ],
)
def test_the_same_value_changed_twice_is_refused_with_its_place(
    ours: tuple[str, str], theirs: tuple[str, str], where: str
) -> None:
    """Nobody's work is thrown away in silence."""
    with pytest.raises(MergeRefused, match=f"changed both here and by another program: {where}$"):
        both(with_change(ours), with_change(theirs))


def test_both_adding_cues_to_one_shot_is_refused() -> None:
    """Their order would be a guess."""
    ours = with_change(("      - {cue: 3,", "      - {cue: 2.5, at: 4 s, look: lit}\n      - {cue: 3,"))
    theirs = with_change(("      - {cue: 3,", "      - {cue: 2.7, at: 5 s, look: lit}\n      - {cue: 3,"))
    with pytest.raises(MergeRefused, match=r"shot 1, cues$"):
        both(ours, theirs)


def test_the_same_change_on_both_sides_is_one() -> None:
    """It contradicts nothing."""
    same = with_change(("50 %", "60 %"))
    assert merged("show.yaml", BASE, same, same) == same


@pytest.mark.parametrize(("prefer", "level"), [("ours", "60 %"), ("theirs", "70 %")])
def test_who_is_right_can_be_said(prefer: str, level: str) -> None:
    """What is not contested is taken from both."""
    ours = with_change(("50 %", "60 %"), ("at: 6 s", "at: 8 s"))
    theirs = with_change(("50 %", "70 %"), ("fade: 1 s", "fade: 2 s"))
    text = merged("show.yaml", BASE, ours, theirs, prefer).decode()  # type: ignore[arg-type]
    assert f"lit: {{key: {level}}}" in text
    assert "at: 8 s" in text
    assert "fade: 2 s" in text


def test_places_are_said_as_a_person_says_them() -> None:
    """By the names of the show."""
    assert place_in_words(("looks", "lit", "key")) == "look lit, key"
    assert place_in_words(("shots", "1", "cues", "2", "fade")) == "shot 1, cue 2, fade"
    assert place_in_words(("camera", "fps")) == "camera, fps"


ONE, TWO, THREE = BASE.decode().splitlines(keepends=True)[-3:]


def with_cues(*lines: str) -> bytes:
    head, found, _ = BASE.decode().partition("    cues:\n")
    return (head + found + "".join(lines)).encode()


def cues_of(text: str) -> list[tuple[str, ...]]:
    """Return the name, the time and the fade of each cue, in the order of the file."""
    shot = yaml.safe_load(text)["shots"]["1"]
    return [(str(cue["cue"]), cue["at"], cue.get("fade", "")) for cue in shot["cues"]]


FASTER = THREE.replace("fade: 1 s", "fade: 3 s")


def test_a_cue_that_we_changed_goes_where_they_moved_it() -> None:
    """Their order, our fade."""
    expected = [("1", "0 s", ""), ("3", "6 s", "3 s"), ("2", "2 s", "1 s")]
    assert cues_of(both(with_cues(ONE, TWO, FASTER), with_cues(ONE, THREE, TWO))) == expected


def test_a_cue_that_they_changed_goes_where_we_moved_it() -> None:
    """Our order, their fade."""
    expected = [("1", "0 s", ""), ("3", "6 s", "3 s"), ("2", "2 s", "1 s")]
    assert cues_of(both(with_cues(ONE, THREE, TWO), with_cues(ONE, TWO, FASTER))) == expected


def test_the_same_order_on_both_sides_is_one() -> None:
    """With what each changed beside it."""
    ours, theirs = with_cues(ONE, FASTER, TWO), with_cues(ONE, THREE, TWO.replace("at: 2 s", "at: 1 s"))
    assert cues_of(both(ours, theirs)) == [("1", "0 s", ""), ("3", "6 s", "3 s"), ("2", "1 s", "1 s")]


REORDERED = [
    (with_cues(ONE, THREE, TWO), with_cues(THREE, ONE, TWO)),  # both, each in another way
    (with_cues(ONE, TWO), with_cues(ONE, THREE, TWO)),  # we took out what they moved
    (with_cues(ONE, THREE, TWO), with_cues(ONE, TWO)),  # they took out what we moved
]


@pytest.mark.parametrize(("ours", "theirs"), REORDERED)
def test_two_orders_of_one_shot_are_refused(ours: bytes, theirs: bytes) -> None:
    """Nobody's order is thrown away in silence."""
    with pytest.raises(MergeRefused, match=r"changed both here and by another program: shot 1, cues$"):
        both(ours, theirs)


@pytest.mark.parametrize(("ours", "theirs"), REORDERED)
def test_whose_order_is_right_can_be_said(ours: bytes, theirs: bytes) -> None:
    """Then it is the order of one of them."""
    assert cues_of(merged("show.yaml", BASE, ours, theirs, "ours").decode()) == cues_of(ours.decode())
    assert cues_of(merged("show.yaml", BASE, ours, theirs, "theirs").decode()) == cues_of(theirs.decode())


def test_a_cue_that_they_took_out_and_we_changed_is_there_again_where_we_are_right() -> None:
    """In its place; it is gone where they are."""
    ours, theirs = with_cues(ONE, TWO.replace("fade: 1 s", "fade: 2 s"), THREE), with_cues(ONE, THREE)
    with pytest.raises(MergeRefused, match=r"shot 1, cue 2, fade$"):
        both(ours, theirs)
    assert cues_of(merged("show.yaml", BASE, ours, theirs, "ours").decode()) == cues_of(ours.decode())
    assert cues_of(merged("show.yaml", BASE, ours, theirs, "theirs").decode()) == cues_of(theirs.decode())


CUES = st.permutations(["1", "2", "3", "4"]).flatmap(
    lambda names: st.tuples(
        st.integers(2, 4).map(lambda count: names[:count]),
        st.fixed_dictionaries({name: st.sampled_from(["1 s", "1 s", "2 s", "3 s"]) for name in names}),
    )
)
Side = tuple[list[str], dict[str, str]]


def written(side: Side) -> bytes:
    names, fades = side
    return with_cues(*(f"      - {{cue: {name}, at: {name} s, look: lit, fade: {fades[name]}}}\n" for name in names))


BEFORE: Side = (["1", "2", "3", "4"], dict.fromkeys("1234", "1 s"))


@settings(max_examples=times(60))
@given(CUES, CUES, st.sampled_from(["neither", "ours", "theirs"]))
def test_what_only_one_side_changed_is_in_the_merged_text_whatever_was_moved(
    ours: Side, theirs: Side, prefer: Preference
) -> None:
    """Refused is only what both changed, and nothing once it is said who is right."""
    try:
        text = merged("show.yaml", written(BEFORE), written(ours), written(theirs), prefer).decode()
    except MergeRefused:
        assert prefer == "neither"
        return
    cues = cues_of(text)
    names, fades = [name for name, *_ in cues], {name: fade for name, _, fade in cues}
    assert len(set(names)) == len(names)
    if ours[0] == BEFORE[0] and set(names) == set(theirs[0]):
        assert names == theirs[0]
    if theirs[0] == BEFORE[0] and set(names) == set(ours[0]):
        assert names == ours[0]
    for name in names:
        one, other = ours[1][name], theirs[1][name]
        if name in ours[0] and name in theirs[0]:
            allowed = {one if other == "1 s" else other if one == "1 s" else {"theirs": other}.get(prefer, one)}
            assert fades[name] in allowed
