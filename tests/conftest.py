"""What every test stands on: no clock limits on properties, and nothing found on the machine."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

settings.register_profile("here", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")

EXPECTS_LIBLTC = bool(os.environ.get("CUEDECK_EXPECT_LIBLTC"))
"""Whether the tests against libltc may not be skipped; asked before the settings are hidden."""
EXPECTS_NETWORK = bool(os.environ.get("CUEDECK_EXPECT_NETWORK"))
"""Whether the tests in a network namespace, and those with tshark, may not be skipped."""

_FOUND_ON_A_MACHINE = ("CUEDECK_", "TEXTUAL", "XDG_", "NO_COLOR", "FORCE_COLOR")


@pytest.fixture(autouse=True, scope="session")
def bare_machine() -> Iterator[None]:
    """Hide the home and the settings of whoever runs the tests."""
    with tempfile.TemporaryDirectory(prefix="cuedeck-") as home, pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if name.startswith(_FOUND_ON_A_MACHINE) and not name.startswith("TEXTUAL_SNAPSHOT"):
                patch.delenv(name)
        patch.setenv("HOME", home)
        yield
