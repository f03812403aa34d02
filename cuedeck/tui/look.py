"""How the screen looks: a dark and a light theme, brass on slate and ink on paper, and our own variables."""

from __future__ import annotations

from textual.theme import Theme

DARK_VARIABLES = {
    "lane": "#c4beb0",
    "other-lane": "#97928a",
    "move-line": "#8fb0c0",
    "playhead": "#f0cf8e",
    "quiet": "#918d84",
}
"""The lanes, the curve of the move, the playhead, and words that stand back."""
LIGHT_VARIABLES = {
    "lane": "#4c4840",
    "other-lane": "#77716a",
    "move-line": "#2f5c70",
    "playhead": "#9a4a00",
    "quiet": "#6b665c",
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
