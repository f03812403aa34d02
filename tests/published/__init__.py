"""Checks against standards and handbooks. Each table names what it was taken from."""
