"""Fixture types out of GDTF files (DIN SPEC 15800)."""
