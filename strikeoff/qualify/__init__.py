"""Readings to a condition."""
