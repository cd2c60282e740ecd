"""Who computes the points of a sweep: here, processes, or a scheduler."""
