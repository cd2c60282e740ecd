"""Commands that are too long for one file, and what all commands share."""
