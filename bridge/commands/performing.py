"""Knows: how a command runs a show to its end, and which outputs it gets.

Must never know: what is played.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.app import Show
from bridge.commands.loading import Say
from bridge.plan import Plan
from bridge.shell.guard_lines import off_lines
from bridge.shell.outputs import output_from_text
from bridge.values.rig import OutputSpec, Rig

INTERRUPTED = 130


def outputs(rig: Rig, given: Sequence[str] | None) -> list[OutputSpec]:
    """The rig's outputs, or those given on the command line instead.

    Raises:
        UsageError: one that cannot be read.
    """
    if not given:
        return list(rig.outputs)
    return [output_from_text(text, rig.universes) for text in given]


def perform(say: Say, plan: Plan) -> int:
    """Run a show to its end; its exit code."""
    # A guard that the rig switches off is said at every start, whatever is played.
    plan.notices = [*off_lines(plan.rig), *plan.notices]
    show = Show(plan, say)
    show.run()
    show.report()
    if show.interrupted:
        return INTERRUPTED
    return 1 if show.failed else 0
