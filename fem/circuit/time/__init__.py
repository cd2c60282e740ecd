"""The circuit stepped through time."""
