"""Positions: parse, format, coarsen, distance, detect in a text."""
