"""What a command has at hand and says: no step of the work itself."""
