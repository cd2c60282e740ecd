"""What is in doubt about a hand-measured core and its fields, as shares that bands are made from."""

from __future__ import annotations

from fem.assumptions import assumed

MAINS = assumed("doubt of the mains").typical
"""Tolerance of the mains voltage."""
STEEL, STACKING, DIMENSIONS = (assumed(f"doubt of the {what}").typical for what in ("steel", "stacking", "dimensions"))
"""Relative doubt of the flux a core takes at given ampere-turns: spread of a grade's B at given H, stacking factor of a
hand-measured stack, callipers on punched edges."""
RECIPE = assumed("leakage recipe").typical
"""Band of the 2-D recipe for the leakage: tests/physics/test_end_region.py."""
RECIPE_COILS = assumed("leakage recipe of many coils").typical
"""The same for more than two coils or a core of two legs: the recipe's corner was fitted to two coils on shell cores
(interleaved +2.4 and +4.4 %, two-leg -3 to +1 %)."""
