"""Knows: how a command runs a show to its end, and which outputs it gets.

Must never know: what is played.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.app import Show
from bridge.commands.loading import Say
from bridge.plan import Plan
from bridge.shell.guard_lines import off_lines
from bridge.shell.outputs import outputs_from_texts
from bridge.values.rig import OutputSpec, Rig

INTERRUPTED = 130


def outputs(rig: Rig, given: Sequence[str] | None) -> list[OutputSpec]:
    """The rig's outputs, or those given on the command line instead.

    Raises:
        UsageError: one that cannot be read, or two that go to one place.
    """
    if not given:
        return list(rig.outputs)
    return outputs_from_texts(given, rig.universes)


def perform(say: Say, plan: Plan) -> int:
    """Run a show to its end; its exit code.

    Raises:
        UsageError: the report it is to write cannot be written where the plan says.
    """
    # A guard that the rig switches off is said at every start, whatever is played.
    plan.notices = [*off_lines(plan.rig), *plan.notices]
    if plan.report is not None:
        from bridge.shell.report import check_writable  # most shows load no report

        check_writable(plan.report, plan.record)
    show = Show(plan, say)
    show.run()
    show.report()
    if show.reporting is not None:
        show.reporting.write(say, show.interrupted)
    if show.interrupted:
        return INTERRUPTED
    return 1 if show.failed else 0
