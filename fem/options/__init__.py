"""Designs compared for the shop: by which numbers they are judged, and what to wind."""
