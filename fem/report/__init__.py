"""Text, JSON and figures of an estimate: draws what it is given, never solves."""
