"""What snapshot tests need."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

_NAME = "TEXTUAL_SNAPSHOT_TEMPDIR"
_place: dict[str, str] = {}


def pytest_collection_finish() -> None:
    """Remember where the snapshot plugin keeps its files, before the machine is made bare."""
    if _NAME in os.environ:
        _place[_NAME] = os.environ[_NAME]


@pytest.fixture(autouse=True, scope="session")
def snapshot_place(bare_machine: None) -> Iterator[None]:  # noqa: ARG001
    """Give the plugin its place back."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in _place.items():
            patch.setenv(name, value)
        yield
