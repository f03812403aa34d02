"""colour-science, the reference library for colour, imported with its warnings about missing extras off.

It draws with matplotlib where that is installed, and warns where it is not; pytest makes warnings errors.
"""

from __future__ import annotations

import warnings

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

__all__ = ["colour"]
