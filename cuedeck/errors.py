"""The one kind of exception whose message is meant for the person on set."""

from __future__ import annotations


class Refusal(Exception):
    """Something that cannot be done. The message says what is wrong and what to do instead."""
