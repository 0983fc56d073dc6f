"""Tolerance sets and verdicts."""
