"""Fixtures to slots and back: types, patch, dimmer curves, colour, looks. Pure."""
