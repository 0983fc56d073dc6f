"""Finished size, repeats, marks, composing a roll."""
