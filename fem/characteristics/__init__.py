"""What the field says about a core and its winding arrangement, per turn: curves and numbers without turns."""
