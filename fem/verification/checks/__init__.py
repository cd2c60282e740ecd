"""What the tool computes for each published value, a subject a file."""
