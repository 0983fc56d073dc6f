"""strikeoff: from measured cloth to press-ready drop planes, and the proof that they came out right."""

__version__ = "0.1.0"
