"""Lampwright: play dimmed lamps over DMX from MIDI.

What must be set before anything large is imported is set here, for the show and the house alike.
"""

import gc
import os

__version__ = "0.1.0"

# Python looks for cycles after every 700 new objects. A start makes 60,000 that all stay, and looking through
# them took a tenth of it and found fifteen (tests/benchmarks/start_and_memory.py).
gc.set_threshold(200_000, 20, 100)
# numpy's library for large matrices starts a thread a core as it loads, 20 ms in all; our matrices are small.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
