"""The command line: one module per command, each a thin caller of the rooms below."""
