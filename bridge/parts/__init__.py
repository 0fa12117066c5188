"""Floor 1: small pure functions, each file on its own; never meets `wire`."""
