"""The stage page: the rig in a browser, played, taught, watched and run from there.

Other folders take what is named here; the rest may change.
"""

from bridge.shell.page.qr import qr_lines
from bridge.shell.page.server import PageServer
from bridge.shell.page.settings import DEFAULT_PORT, PageSettings, page_settings
from bridge.shell.page.teach import Lesson, NewLamp, Taught, Teacher

__all__ = [
    "DEFAULT_PORT",
    "Lesson",
    "NewLamp",
    "PageServer",
    "PageSettings",
    "Taught",
    "Teacher",
    "page_settings",
    "qr_lines",
]
