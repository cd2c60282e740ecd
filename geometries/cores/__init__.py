"""Cores of stacked sheet: one file a kind, and what goes into them."""
