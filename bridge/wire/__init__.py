"""Floor 1: bytes to values and back, pure; never meets `parts`."""
