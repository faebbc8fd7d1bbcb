"""One module per command, with its messages; the work itself is done in other packages."""
