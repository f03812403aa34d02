"""The real-time part: it owns the clock of a take and the outputs."""
