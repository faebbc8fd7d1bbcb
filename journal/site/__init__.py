"""Model and numbers into pages, pictures and what a phone holds. Templates get finished values."""
