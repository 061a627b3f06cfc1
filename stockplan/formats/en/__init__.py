"""English: the day before the month, the day's name with it, 24 hours."""
