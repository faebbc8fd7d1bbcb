"""Locked sites: a finished plain site goes in, and what comes out may be on any host. Nothing here reads a journal."""
