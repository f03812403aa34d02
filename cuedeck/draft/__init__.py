"""The show as it is being edited: what is changed, how it is undone, and how it is put together with others' changes."""
