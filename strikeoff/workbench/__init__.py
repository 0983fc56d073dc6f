"""Use cases: the public Python API."""
