"""What is wrong with artwork for a condition and a finished size, with pictures and fixes."""
