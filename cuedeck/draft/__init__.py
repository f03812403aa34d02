"""The show as it is being edited: what is changed, how it is undone, and how other people's changes come in."""
