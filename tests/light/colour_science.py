"""colour-science, the reference library for colour: loaded when it is first asked, its warnings about extras off.

It takes a second to load, which each worker would need to collect the tests, and few to run them. It draws with
matplotlib where that is installed, and warns where it is not; pytest makes warnings errors.
"""

from __future__ import annotations

import warnings
from functools import cache
from types import ModuleType
from typing import Any


@cache
def _loaded() -> ModuleType:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour as loaded
    return loaded


class _Colour:
    def __getattr__(self, name: str) -> Any:
        return getattr(_loaded(), name)


colour = _Colour()
