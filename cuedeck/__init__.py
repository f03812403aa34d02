"""cuedeck: lighting cues timed to a camera move and rendered to DMX-512 the same way every time."""

__version__ = "0.1.0"
