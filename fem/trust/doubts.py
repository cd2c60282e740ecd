"""What is in doubt about a hand-measured core and its fields, as shares that bands are made from."""

from __future__ import annotations

MAINS = 0.10
"""Tolerance of the mains voltage: IEC 60038 (from memory)."""
STEEL, STACKING, DIMENSIONS = 0.02, 0.015, 0.01
"""Relative doubt of the flux a core takes at given ampere-turns: spread of a grade's B at given H, stacking factor of a
hand-measured stack, callipers on punched edges. Common practice, no source."""
RECIPE = 0.03
"""Band of the 2-D recipe for the leakage: tests/physics/test_end_region.py."""
RECIPE_COILS = 0.06
"""The same for more than two coils or a core of two legs: the recipe's corner was fitted to two coils on shell cores
(interleaved +2.4 and +4.4 %, two-leg -3 to +1 %)."""
