"""What the circuit settles at, and what meters show of it."""
