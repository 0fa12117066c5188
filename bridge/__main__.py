"""Knows: that `python -m bridge` is the command `lampwright`.

Must never know: anything else.
"""

from bridge.cli import main

if __name__ == "__main__":
    main()
