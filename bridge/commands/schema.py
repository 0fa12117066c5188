"""Knows: what `schema` writes.

Must never know: what a schema says.
"""

from __future__ import annotations

import difflib
import json

from bridge.commands.loading import Say
from bridge.shell.files import schema_of
from bridge.values.errors import UsageError

KINDS = ("rig", "mapping", "set")


def schema(say: Say, kind: str) -> int:
    """Print the JSON Schema of a file language."""
    if kind not in KINDS:
        near = difflib.get_close_matches(kind, KINDS, 1)
        meant = f"did you mean {near[0]}? " if near else ""
        raise UsageError(f"there is no schema of {kind!r}; {meant}known: {', '.join(KINDS)}")
    say(json.dumps(schema_of(kind), indent=2))
    return 0
