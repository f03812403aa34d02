"""The one kind of exception whose message is meant for the person on set."""

from __future__ import annotations


class Refusal(Exception):
    """Something that cannot be done. The message says what is wrong and what to do instead."""


def internal_error(error: BaseException) -> str:
    """Return what to tell of an error that nobody foresaw."""
    return f"internal error, please report it: {type(error).__name__}: {error}"
