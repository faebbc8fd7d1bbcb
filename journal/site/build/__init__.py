"""What must be rendered again, freezing, offline lists, and the swap into place."""
