"""One take: made ready, run, recorded."""
