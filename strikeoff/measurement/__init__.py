"""Readings: records and set-ups, ISO 28178 text and CSV, repeats and consistency."""
