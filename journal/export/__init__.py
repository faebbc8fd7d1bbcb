"""The journal for other programs: one JSON document, or CSV tables."""
