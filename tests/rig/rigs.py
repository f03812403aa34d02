"""Small rigs, written out as text."""

from __future__ import annotations

from cuedeck.rig.parameters import PatchedFixture
from cuedeck.rig.patch import Patch, build_patch
from cuedeck.show.load import LoadedShow, load_show

EMITTERS = {
    "red": (0.69, 0.31, 20.0),
    "green": (0.17, 0.70, 60.0),
    "blue": (0.14, 0.05, 6.0),
    "white": (0.33, 0.34, 100.0),
}
"""x, y and luminance of an invented light."""
MEASURED = "{0 %: 0, 10 %: 42 lux, 50 %: 1180 lux, 100 %: 5210 lux}"


def emitters_text(*names: str) -> str:
    """Return `emitters:` of a type with some of the emitters above."""
    readings = (
        f"{name}: {{x: {x}, y: {y}, luminance: {light}}}" for name, (x, y, light) in EMITTERS.items() if name in names
    )
    return f"emitters: {{{', '.join(readings)}}}"


def loaded(*lines: str) -> LoadedShow:
    """Read a show of these lines, without a fault."""
    show = load_show("\n".join(["cuedeck: 1", *lines]).encode())
    assert [str(problem) for problem in show.problems] == []
    return show


def patch_of(kind: str, mode: str = "") -> Patch:
    """Return the patch of one light, 'a', at 1.1, of a type with what stands in its braces."""
    return build_patch(loaded(f"types: {{t: {{{kind}}}}}", f"rig: {{a: {{type: t, address: 1.1{mode}}}}}").show)


def light_of(kind: str) -> PatchedFixture:
    """Return one light of a type with what stands in its braces."""
    (light,) = patch_of(kind).fixtures
    return light
