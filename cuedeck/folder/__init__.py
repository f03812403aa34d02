"""The show folder on disk: the one place where files of a show are opened."""
