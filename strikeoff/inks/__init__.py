"""Physical inks and the screen, the two ink spaces, tone curves, light-ink split, drop curves, the guard."""
