"""One module a command, its messages included; no step of the work itself."""
