"""What the exit codes mean."""

DONE = 0
WRONG = 1
"""The show has errors, or not every packet went out."""
USAGE = 2
"""The command was not understood."""
INTERNAL = 70
"""cuedeck itself failed."""
STOPPED = 130
"""Stopped with Ctrl-C."""
