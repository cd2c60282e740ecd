"""Rectangles, discs and frames that describe nothing: what all else stands on."""
