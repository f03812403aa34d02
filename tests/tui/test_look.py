"""The themes: how bright they are, and whether their words can be read."""

from __future__ import annotations

import pytest
from rich.style import Style
from textual.theme import Theme

from cuedeck.light.screen import contrast_ratio, relative_luminance
from cuedeck.rig.state import FixtureState
from cuedeck.tui.look import DARK, GLOW, LIGHT, NIGHT, NIGHT_LUMINANCE, PLAIN, mean_luminance, rgb_of, theme_for, themes
from cuedeck.tui.set_view import glow

LEAST_CONTRAST = 4.5
"""Of words (WCAG 2.2, success criterion 1.4.3)."""
LEAST_DRAWN_CONTRAST = 3.0
"""Of what is drawn (WCAG 2.2, success criterion 1.4.11)."""
DRAWN = ("lane", "other-lane", "move-line")


def colours_of(theme: Theme) -> dict[str, str]:
    names = ("primary", "secondary", "accent", "warning", "error", "success", "foreground")
    own = {name: value for name, value in theme.variables.items() if name != GLOW}
    return {name: getattr(theme, name) for name in names} | own


@pytest.mark.parametrize(("one", "other", "ratio"), [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48)])
def test_contrast_is_that_of_wcag(one: str, other: str, ratio: float) -> None:
    """Black on white is 21:1 (WCAG 2.2, contrast ratio); #777 on white just fails 4.5:1 (from memory: WebAIM)."""
    assert contrast_ratio(rgb_of(one), rgb_of(other)) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("theme", [DARK, LIGHT, NIGHT], ids=lambda theme: theme.name)
def test_words_can_be_read(theme: Theme) -> None:
    """On the ground and on raised lines; the top and the status line have the foreground only."""
    grounds = [rgb_of(one) for one in (theme.background, theme.surface) if one]
    for name, colour in colours_of(theme).items():
        least = LEAST_DRAWN_CONTRAST if name in DRAWN else LEAST_CONTRAST
        for ground in grounds if name not in DRAWN else grounds[:1]:
            assert contrast_ratio(rgb_of(colour), ground) >= least, f"{theme.name}: {name}"
    assert theme.foreground
    assert theme.panel
    assert contrast_ratio(rgb_of(theme.foreground), rgb_of(theme.panel)) >= LEAST_CONTRAST


def test_the_night_theme_lights_no_set() -> None:
    """None of its colours is brighter than it says, and their mean is far below that of the others."""
    assert {name: c for name, c in colours_of(NIGHT).items() if relative_luminance(rgb_of(c)) > NIGHT_LUMINANCE} == {}
    assert round(mean_luminance(NIGHT), 2) == 0.14
    assert round(mean_luminance(DARK), 2) == 0.36


@pytest.mark.parametrize("colour", [(1.0, 1.0, 1.0), (1.0, 0.0, 0.0), (0.2, 0.4, 1.0)])
@pytest.mark.parametrize("level", [0.0, 0.1, 0.5, 1.0])
def test_lights_of_the_set_are_no_brighter_than_the_night(colour: tuple[float, float, float], level: float) -> None:
    """Neither their ground nor the glyph on it."""
    style = glow(FixtureState("rim", level, None, colour), NIGHT_LUMINANCE, Style(color=NIGHT.foreground))
    assert style.color
    assert style.bgcolor
    for part in (style.color, style.bgcolor):
        red, green, blue = part.get_truecolor()
        assert relative_luminance((red / 255, green / 255, blue / 255)) <= NIGHT_LUMINANCE + 0.005


def test_a_terminal_of_16_colours_gets_its_own() -> None:
    """Lights have no colour there, and are told by shapes and words."""
    assert (theme_for("standard"), theme_for("truecolor"), theme_for("256")) == (PLAIN, DARK, DARK)
    assert glow(FixtureState("rim", 1.0, None, (1, 0, 0)), 0.0, Style()) == Style(bold=True)


def test_the_night_says_how_bright_it_is() -> None:
    """In the words of the palette."""
    assert themes()["night"][1] == "for a dark set (at most 20 % of the brightness of white)"
