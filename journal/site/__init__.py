"""Renders model and analysis into pages, pictures and the offline copy. Templates get finished values."""
