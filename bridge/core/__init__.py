"""Floor 2: the engine and what it is made of; pure, no clock, no file."""
