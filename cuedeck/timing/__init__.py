"""Time on a set: moves, shapes of motion, labels of frames. Pure: no clock is read here."""
