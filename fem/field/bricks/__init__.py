"""End turns in three dimensions, and their slices, by quadratic bricks on tensor grids."""
