"""A simulated mill with hidden truth: prints, steams, washes, measures."""
