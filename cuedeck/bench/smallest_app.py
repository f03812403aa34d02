"""The smallest application of Textual, a peer of the terminal UI: `python -m cuedeck.bench.smallest_app [MODULE ...]`.

It imports the modules first, draws one word, and then waits for ever.
"""

from __future__ import annotations

import sys
from importlib import import_module

from textual.app import App, ComposeResult
from textual.widgets import Static


class SmallestApp(App[None]):
    """Draws `quit`, for which the measurements wait."""

    def compose(self) -> ComposeResult:
        """Give its only widget."""
        yield Static("quit")


if __name__ == "__main__":
    for module in sys.argv[1:]:
        import_module(module)
    SmallestApp().run()
