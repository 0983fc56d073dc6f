"""Ink planes to drop levels."""
