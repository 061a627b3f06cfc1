"""The demo plant: invented from end to end, written as plant files by a seeded generator."""
