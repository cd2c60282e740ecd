"""Wire and cable, how turns lie, and whether they fit."""
