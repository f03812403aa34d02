"""Changing the text of a show file where it changes; knows nothing of the model."""
