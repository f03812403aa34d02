"""The words for an output that is lost, for all who say so: outputs, outlets, the log, the command line, the screen."""

LOST = "LOST"
"""Where there is room for one word."""
NOT_THERE = "NOT THERE, is it plugged in?"
"""The same of one whose port cannot be found."""
NOT_FOUND = "it is not there: is it plugged in? 'cuedeck ports' lists those there are"
MEND = "mend it, or leave that output out"


def was_lost(name: str, why: str = "") -> str:
    """Return that an output failed while it was open."""
    return f"{name} was lost: {why}" if why else f"{name} was lost"


def reason_alone(name: str, what: str) -> str:
    """Return why an output is lost without its name, where that stands beside it."""
    return what.removeprefix(f"{name} ").removeprefix("was lost: ")


def cannot_open(name: str, why: str) -> str:
    """Return that an output does not open."""
    return f"{name} cannot be opened: {why}"


def is_tried_again(what: str) -> str:
    """Return what is told of a loss."""
    return f"{what}; it is tried again"


def is_back(name: str) -> str:
    """Return what is told when the output sends again."""
    return f"{name} is back"
