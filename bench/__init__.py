"""What strikeoff can do, in numbers."""
