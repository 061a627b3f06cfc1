"""How days and times are written, by language."""
