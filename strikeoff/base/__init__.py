"""Errors, problems, canonical bytes and digests, safe file writing, progress: what every layer stands on."""
