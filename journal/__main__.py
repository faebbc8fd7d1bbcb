"""The command `journal`, and `python -m journal` for where it is not on the path."""

from __future__ import annotations

import gc
import os
import sys


def main() -> None:
    """The command; whoever stops it before it is loaded sees no traceback either."""
    try:
        _run()
    except KeyboardInterrupt as error:
        from journal.ctrl_c import stopped_status

        sys.stderr.write("Stopped.\n")
        sys.exit(stopped_status(error))


def _run() -> None:
    """What loads the commands is loaded only where there is something to do."""
    _open_closed_streams()
    from journal.commands.build_again import is_over

    if is_over(sys.argv[1:]):
        return
    from journal.ctrl_c import stop_when_terminated

    stop_when_terminated()
    gc.set_threshold(500_000, 20, 50)  # loading modules makes much that stays, and little garbage
    from journal import cli

    try:
        cli.main()
    finally:
        gc.freeze()  # else Python looks for garbage, and takes apart all that is left, before it ends


def _open_closed_streams() -> None:
    """Gives a standard stream that was closed before the command began the null device: what is printed is dropped, and
    no file that is opened later gets its number, under which a library might print into that file."""
    for number, (name, mode) in enumerate((("stdin", "r"), ("stdout", "w"), ("stderr", "w"))):
        if getattr(sys, name) is None:
            null = os.open(os.devnull, os.O_RDWR)
            if null != number:
                os.dup2(null, number)
                os.close(null)
            os.set_inheritable(number, True)
            setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", errors="backslashreplace", closefd=False))


if __name__ == "__main__":
    main()
