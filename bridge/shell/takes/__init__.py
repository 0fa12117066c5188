"""Takes: performances recorded while they happen, read whatever became of the file, played, edited."""
