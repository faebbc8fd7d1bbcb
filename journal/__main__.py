"""`python -m journal`, for where the command is not on the path."""

from journal.cli import main

if __name__ == "__main__":
    main()
