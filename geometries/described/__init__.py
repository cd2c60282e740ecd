"""What a user may write: quantities with units, and how a fault is told."""
