"""What a core's parts are filled with: sheets and the insulation between them see the same field along the sheet."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from fem.characteristics.laws import saturating_iron
from fem.constants import MU0
from fem.materials.mixture import STEP
from fem.materials.steel import steel
from geometries.cores.stacked import Joint
from geometries.shapes.section import Region, Role

CURVE = steel("M530-50A").curve
GRID = STEP * np.arange(1, 200)


@pytest.mark.parametrize("stacking_factor", [0.88, 0.95, 0.97])
@pytest.mark.parametrize(("role", "share"), [(Role.IRON, 1.0), (Role.SHUNT, 1.0), (Role.JOINT, 0.5)])
def test_average_is_the_share_of_iron_and_the_rest_of_air(stacking_factor: float, role: Role, share: float) -> None:
    """Average b = s B(H) + (1 - s) mu0 H, s the stacking factor, and half of it where every other sheet runs through.

    At the law's own table points that is exact but for the inversion, which stops at 1e-13.
    """
    law_of, *_ = saturating_iron(CURVE, stacking_factor, Joint.INTERLEAVED)
    law = law_of(Region(name="part", role=role, x0=0.0, y0=0.0, x1=1.0, y1=1.0))
    assert law is not None
    H = law.nu_dnu(GRID**2)[0] * GRID
    iron = share * stacking_factor
    assert_allclose(iron * CURVE.flux_density(H) + (1 - iron) * MU0 * H, GRID, rtol=1e-11)


@pytest.mark.parametrize("joint", [Joint.BUTT, Joint.WELDED])
def test_other_joints_are_air(joint: Joint) -> None:
    law_of, *_ = saturating_iron(CURVE, 0.95, joint)
    assert law_of(Region(name="part", role=Role.JOINT, x0=0.0, y0=0.0, x1=1.0, y1=1.0)) is None
