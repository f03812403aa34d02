"""Ways out for packets: one module each, behind one small interface."""
