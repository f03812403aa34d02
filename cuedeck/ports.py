"""Failing serial ports, put into words, and the driver of MIDI ports: what outputs and inputs share."""

from __future__ import annotations

import errno
from types import ModuleType
from typing import TypeVar

NO_MORE_THREADS = "the system lets no more threads begin: end other programs"
Unusable = TypeVar("Unusable", bound=Exception)


def failures() -> tuple[type[Exception], ...]:
    """Return the exceptions of a port that has gone: on POSIX, to drain it raises one that is no OSError."""
    try:
        import termios
    except ImportError:
        return (OSError,)
    return (OSError, termios.error)


def opening_failures() -> tuple[type[Exception], ...]:
    """Return the exceptions of opening a port: also ValueError, for a setting or a URL that it does not take."""
    return (ValueError, *failures())


def reason(error: Exception) -> str:
    """Return the cause in words. pyserial wraps it in a message of its own; the cause is in `__context__`."""
    cause = error.__context__ if isinstance(error.__context__, OSError) else error
    if isinstance(cause, BlockingIOError) or getattr(cause, "errno", None) == errno.EBUSY:
        return "another program has it, or the player of another show: end that first"
    if isinstance(cause, PermissionError):
        return "permission denied; on Linux, join the group that owns the port (see hardware-notes.md)"
    if isinstance(cause, FileNotFoundError):
        return "there is no such port; 'cuedeck ports' lists those there are"
    if (error.__context__ or error).args[:1] == (errno.ENOTTY,):
        return "it is no serial port; 'cuedeck ports' lists those there are"
    text = str(getattr(cause, "strerror", None) or (cause.args[-1] if cause.args else cause))
    return text[:1].lower() + text[1:]


def midi_module(unusable: type[Exception]) -> ModuleType:
    """Return mido. Raises `unusable`, with a message that names the extra, where it is not installed."""
    try:
        import mido
    except ImportError as error:
        raise midi_is_missing(error, unusable) from error
    module: ModuleType = mido
    return module


def midi_is_missing(error: ImportError, unusable: type[Unusable]) -> Unusable:
    """Return the error of a MIDI port whose packages are not installed; mido finds out late that its driver is not."""
    return unusable(f"MIDI ports need packages that are not installed ({error}): pip install 'cuedeck[midi]'")
