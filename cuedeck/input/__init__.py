"""Ways in, one module each: timecode, contacts, OSC, a rig that tells where its axes are."""
