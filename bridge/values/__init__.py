"""Floor 0: the words we speak. Frozen values; imports nothing of ours."""
