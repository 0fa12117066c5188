"""Knows: what `ports` prints.

Must never know: how devices are found.
"""

from __future__ import annotations

from bridge.commands.loading import Say


def ports(say: Say) -> int:
    """List what is plugged in, with the line to paste for each."""
    from bridge.shell.devices import all_sections

    for section in all_sections():
        say(section.title)
        for line in section.lines:
            paste = " | ".join(text for text in (line.for_file, line.for_command) if text)
            say(f"  {line.what}" + (f"    {paste}" if paste else ""))
        for missing in section.missing:
            say(f"  {missing}")
        say("")
    return 0
