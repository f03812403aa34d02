"""Linear timecode (SMPTE ST 12-1), from sound and to sound."""
