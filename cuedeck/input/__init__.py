"""Ways in: what comes from outside while a take runs."""
