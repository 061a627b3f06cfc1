"""Days as they are written in German."""
