"""What would improve a transformer: each cure checked for room, computed to the end, and ranked."""
