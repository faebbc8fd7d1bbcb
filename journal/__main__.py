"""The command `journal`, and `python -m journal` for where it is not on the path."""

from __future__ import annotations

import gc
import sys


def main() -> None:
    """What loads the commands is loaded only where there is something to do."""
    from journal.commands.build_again import is_over

    if is_over(sys.argv[1:]):
        return
    gc.set_threshold(500_000, 20, 50)  # loading modules makes much that stays, and little garbage
    from journal import cli

    try:
        cli.main()
    finally:
        gc.freeze()  # else Python looks for garbage in all that is left before it ends


if __name__ == "__main__":
    main()
