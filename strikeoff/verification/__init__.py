"""Tolerance sets and verdicts: pass, fail or undecided."""
