"""MIDI Time Code, as bytes and as files."""
