"""The command `journal`, and `python -m journal` for where it is not on the path."""

from __future__ import annotations

import sys


def main() -> None:
    """What loads the commands is loaded only where there is something to do."""
    from journal.commands.build_again import is_over

    if not is_over(sys.argv[1:]):
        from journal import cli

        cli.main()


if __name__ == "__main__":
    main()
