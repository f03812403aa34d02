"""Two changes of one file, ours and another program's."""

from __future__ import annotations

import pytest

from cuedeck.draft.merging import MergeRefused, merged, place_in_words

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
