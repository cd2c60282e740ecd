"""Two-dimensional magnetostatics on scikit-fem: quadratic elements, exact-tangent Newton, error estimate."""
