"""A shot, compiled: a pure function from time to levels, and from packet numbers to slots."""
