"""What a player writes: reading, checking and pointing at the very place of a mistake.

Other folders take what is named here; the rest may change.
"""

from bridge.shell.files.mapping import mapping_from_text, read_mapping
from bridge.shell.files.rig import read_rig, rig_from_text
from bridge.shell.files.schema import KINDS, schema_of
from bridge.shell.files.set_list import read_set_list, set_list_from_text

__all__ = [
    "KINDS",
    "mapping_from_text",
    "read_mapping",
    "read_rig",
    "read_set_list",
    "rig_from_text",
    "schema_of",
    "set_list_from_text",
]
