"""How the screen looks: its themes, brass on slate, ink on paper, embers for a dark set, the terminal's colours.

The night theme has no colour above a fifth of the luminance of white. Words cannot be darker and keep the contrast
of 4.5:1 that WCAG 2.2 (success criterion 1.4.3) asks for: on pure black that takes a luminance of
4.5 x 0.05 - 0.05 = 0.175.
"""

from __future__ import annotations

from collections.abc import Mapping

from textual.theme import Theme

from cuedeck.light.screen import Rgb, relative_luminance

NIGHT_LUMINANCE = 0.2
"""The most that any colour of the night theme has, where white has 1; the lights of the set view keep to it too."""
GLOW = "light-glow"
"""The theme variable that says how bright the set view may draw a light, 0 to 1; 0 draws none in its colour."""

DARK_VARIABLES = {
    "lane": "#c4beb0",
    "other-lane": "#97928a",
    "move-line": "#8fb0c0",
    "playhead": "#f0cf8e",
    "quiet": "#918d84",
    GLOW: "1",
}
"""The lanes, the curve of the move, the playhead, words that stand back, and how bright lights are drawn."""
LIGHT_VARIABLES = {
    "lane": "#4c4840",
    "other-lane": "#77716a",
    "move-line": "#2f5c70",
    "playhead": "#9a4a00",
    "quiet": "#6b665c",
    GLOW: "1",
}
DARK = Theme(
    name="cuedeck-dark",
    primary="#c9a86a",
    secondary="#8fb0c0",
    accent="#e2c48a",
    warning="#e0a458",
    error="#d9746c",
    success="#93b48b",
    foreground="#d8d4ca",
    background="#16191c",
    surface="#1c2024",
    panel="#262b30",
    dark=True,
    variables=DARK_VARIABLES,
)
LIGHT = Theme(
    name="cuedeck-light",
    primary="#7a5a1e",
    secondary="#2f5c70",
    accent="#8a5a00",
    warning="#96560a",
    error="#a03a32",
    success="#3f6b3a",
    foreground="#2a2722",
    background="#f6f3ec",
    surface="#efebe1",
    panel="#e2dccf",
    dark=False,
    variables=LIGHT_VARIABLES,
)
NIGHT = Theme(
    name="cuedeck-night",
    primary="#8f774a",
    secondary="#807973",
    accent="#977549",
    warning="#ab6d28",
    error="#c45a4d",
    success="#688062",
    foreground="#857868",
    background="#050404",
    surface="#0a0807",
    panel="#0e0c0a",
    dark=True,
    variables={
        "lane": "#715b48",
        "other-lane": "#6b5d55",
        "move-line": "#626e6e",
        "playhead": "#94764b",
        "quiet": "#877764",
        GLOW: str(NIGHT_LUMINANCE),
    },
)
PLAIN = Theme(
    name="cuedeck-plain",
    ansi=True,
    primary="ansi_yellow",
    secondary="ansi_cyan",
    accent="ansi_bright_yellow",
    warning="ansi_yellow",
    error="ansi_red",
    success="ansi_green",
    foreground="ansi_default",
    background="ansi_default",
    surface="ansi_default",
    panel="ansi_default",
    dark=True,
    variables={
        "lane": "ansi_default",
        "other-lane": "ansi_cyan",
        "move-line": "ansi_cyan",
        "playhead": "ansi_bright_yellow",
        "quiet": "ansi_default",
        GLOW: "0",
        "ansi-background": "ansi_black",
        "ansi-foreground": "ansi_white",
        "border-blurred": "ansi_black",
        "block-cursor-foreground": "ansi_black",
        "block-cursor-background": "ansi_white",
        "input-cursor-background": "ansi_white",
        "input-cursor-foreground": "ansi_black",
        "input-selection-background": "ansi_white",
        "input-selection-foreground": "ansi_black",
        "screen-selection-background": "ansi_white",
        "screen-selection-foreground": "ansi_black",
    },
)
"""For terminals of 16 colours: the colours are the terminal's own, so that what it makes of them can be read."""


def themes() -> Mapping[str, tuple[Theme, str]]:
    """Return our themes by the name a user says, each with what it is for."""
    percent = round(NIGHT_LUMINANCE * 100)
    return {
        "dark": (DARK, "brass on slate"),
        "light": (LIGHT, "ink on paper, for a lit room"),
        "night": (NIGHT, f"for a dark set (at most {percent} % of the brightness of white)"),
        "plain": (PLAIN, "the terminal's own 16 colours; lights are told by shapes and words"),
    }


def theme_for(color_system: str | None) -> Theme:
    """Return the theme to begin with, by what the console found of the terminal: 'standard' is 16 colours."""
    return PLAIN if color_system == "standard" else DARK


def rgb_of(colour: str) -> Rgb:
    """Return the red, green and blue, 0 to 1, of '#rrggbb'."""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return red, green, blue


def mean_luminance(theme: Theme) -> float:
    """Return the mean relative luminance of a theme's colours, our own among them, where white has 1."""
    own = [value for name, value in theme.variables.items() if name != GLOW]
    parts = (theme.primary, theme.secondary, theme.accent, theme.warning, theme.error, theme.success)
    grounds = (theme.foreground, theme.background, theme.surface, theme.panel)
    colours = [one for one in (*parts, *grounds, *own) if one is not None]
    return sum(relative_luminance(rgb_of(one)) for one in colours) / len(colours)
