"""Leakage of two windings against each other, and the forces it makes."""
