"""Plots and pages of a shot, drawn from its packets."""
