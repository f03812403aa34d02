"""Inputs, one module each: timecode, contacts, OSC, positions of a rig's axes."""
