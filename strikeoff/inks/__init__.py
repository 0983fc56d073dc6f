"""Ink names and roles, tone curves, ink limits."""
