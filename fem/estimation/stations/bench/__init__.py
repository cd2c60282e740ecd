"""What surrounds the machine: work, heat, supply, meters."""
