"""Tolerance sets as TOML."""
