"""How many slots a packet may have."""

FULL_UNIVERSE = 512
"""ANSI E1.11: slots behind the start code at most."""
FEWEST_SLOTS = 24
"""The least that is sent: as many as fill the shortest time from break to break that ANSI E1.11 allows."""
