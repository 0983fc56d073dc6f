"""Artwork bands to ink planes."""
