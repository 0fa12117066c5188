"""Floor 4: what each command does, one file each; `cli` hands over the arguments."""
