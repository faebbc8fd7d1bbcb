"""The journal for other programs: one JSON document, CSV tables, or records of its finds."""
