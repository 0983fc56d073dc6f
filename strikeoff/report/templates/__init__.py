"""Page templates and their style."""
