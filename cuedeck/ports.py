"""What a serial port says when it fails, in words: for the ways out and the ways in alike."""

from __future__ import annotations

import errno


def failures() -> tuple[type[Exception], ...]:
    """Return what a port that has gone may raise: on POSIX, draining it raises no OSError."""
    try:
        import termios
    except ImportError:
        return (OSError,)
    return (OSError, termios.error)


def opening_failures() -> tuple[type[Exception], ...]:
    """Return what opening a port may raise: a setting or a URL that it does not take, too."""
    return (ValueError, *failures())


def reason(error: Exception) -> str:
    """Return the cause in words, without the traceback or the tuple that pyserial puts around it."""
    cause = error.__context__ if isinstance(error.__context__, OSError) else error
    if isinstance(cause, PermissionError):
        return "permission denied; on Linux, join the group that owns the port (see hardware-notes.md)"
    if isinstance(cause, FileNotFoundError):
        return "there is no such port; 'cuedeck ports' lists those there are"
    if (error.__context__ or error).args[:1] == (errno.ENOTTY,):
        return "it is no serial port; 'cuedeck ports' lists those there are"
    text = str(getattr(cause, "strerror", None) or (cause.args[-1] if cause.args else cause))
    return text[:1].lower() + text[1:]
