"""One file a command, and what all commands share: a job, outputs, the terminal."""
