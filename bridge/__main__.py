"""Knows: that `python -m bridge` is the command `lampwright`, which can be told to end from the first moment.

Must never know: anything else.
"""

import sys

from bridge.shell.handles import explain, used_up
from bridge.shell.interrupt import leave_at_once, unwind


def main() -> None:
    """The command, from the first signal it may get to the last error it may meet."""
    leave_at_once()
    try:
        # Not above: it takes a tenth of a second, and a Ctrl-C within it would be a traceback.
        from bridge.cli import app
        from bridge.cli_options import guarded
        from bridge.shell.tty import any_letter

        any_letter()
        unwind(guarded.__code__)
        app()
    except OSError as error:
        if not used_up(error):
            raise
        # Even Python's own way to show an error opens files.
        print(explain("this cannot start"), file=sys.stderr)
        sys.exit(1)


if __name__ == "__main__":
    main()
