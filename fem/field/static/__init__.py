"""Magnetostatics: curl (nu curl A) = J in two dimensions, by quadratic triangles and Newton's method."""
