"""Knows: which lesson a message of the page asks for, and how what came of it is told.

Must never know: how a lesson is written into a file; sockets.
"""

from __future__ import annotations

import bridge.shell.page.words as words
from bridge.shell.page.lesson_text import Lesson, NewLamp
from bridge.shell.page.teach import Draft, Taught, Teacher
from bridge.values.errors import DeviceError, FileError

SHOWN = 8
"""Mistakes of a file told at once."""


def learn(teacher: Teacher, message: words.Message) -> Taught:
    """Write a lesson down, or say why not; never raises for what a player or a browser did."""
    try:
        if isinstance(message, words.Undo):
            return teacher.undo()
        return teacher.write(_draft(teacher, message))
    except FileError as error:
        lines = [str(problem) for problem in error.problems]
        more = [f"and {len(lines) - SHOWN} more"] if len(lines) > SHOWN else []
        return Taught(False, (*lines[:SHOWN], *more))
    except DeviceError as error:
        return Taught(False, (str(error),))


def _draft(teacher: Teacher, message: words.Message) -> Draft:
    if isinstance(message, words.Move):
        return teacher.move(message.lamp, message.right, message.up)
    if isinstance(message, words.Patch):
        return teacher.patch(
            NewLamp(
                message.name,
                message.slot,
                (message.x, message.y),
                message.universe,
                message.kind,
                message.supply,
                message.colour,
            )
        )
    if not isinstance(message, words.Teach):
        raise TypeError(f"{message.word} is no lesson")
    return teacher.rule(
        Lesson(
            kind=message.kind,
            number=message.number,
            then=message.then,
            lamps=tuple(message.lamps),
            look=message.look,
            source=message.source,
            channel=message.channel,
            mode=message.mode,
            feel=message.feel,
            between=(message.low, message.high),
        )
    )
