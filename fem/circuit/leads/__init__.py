"""The secondary's way to the work: go and return, and its joints."""
