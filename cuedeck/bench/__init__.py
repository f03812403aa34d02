"""Measurements on this machine, each beside a peer that is run in the same minute."""
