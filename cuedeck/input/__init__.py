"""Ways in, one module each: contacts, OSC, a rig that tells where its axes are."""
