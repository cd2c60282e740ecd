"""Sections: mirror symmetry, halves, digests."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from geometries.shapes.section import Cut, Region, Role, Section

MM = 1e-3


def conductor(x0: float, x1: float, sense: int, winding: str = "primary") -> Region:
    return Region(
        name=f"{winding} {sense:+d}", role=Role.CONDUCTOR, x0=x0, y0=0.0, x1=x1, y1=0.02, winding=winding, sense=sense
    )


def pair() -> Section:
    """A leg with a coil round it, symmetric about x = 0."""
    return Section(
        regions=(
            Region(name="leg", role=Role.IRON, x0=-0.01, y0=-0.01, x1=0.01, y1=0.03),
            conductor(0.012, 0.02, +1),
            conductor(-0.02, -0.012, -1),
        ),
        outline=(-0.05, -0.05, 0.05, 0.05),
        cuts=(Cut(name="leg", x0=0.01, y0=0.01, x1=-0.01, y1=0.01),),
    )


def test_coil_round_a_leg_is_mirror_symmetric() -> None:
    assert pair().mirror_symmetric


@pytest.mark.parametrize(
    "change",
    [
        {"outline": (-0.05, -0.05, 0.06, 0.05)},
        {"regions": (pair().regions[0], replace(pair().regions[1], share=0.5), pair().regions[2])},
        {"halved": True},
        {"regions": pair().regions[:2]},
        {"regions": (pair().regions[0], conductor(0.012, 0.02, +1), conductor(-0.02, -0.012, +1))},
        {"regions": (pair().regions[0], conductor(0.012, 0.02, +1), conductor(-0.02, -0.012, -1, "secondary"))},
        {"regions": (pair().regions[0], conductor(0.012, 0.02, +1), conductor(-0.02 - 2e-9, -0.012, -1))},
    ],
)
def test_what_breaks_the_symmetry(change: dict[str, object]) -> None:
    other = replace(pair(), **change)
    assert not other.mirror_symmetric
    with pytest.raises(ValueError, match="mirror-symmetric"):
        other.half()


def test_half_keeps_the_right_side_and_half_of_the_leg() -> None:
    half = pair().half()
    assert half.halved
    assert half.outline == (0.0, -0.05, 0.05, 0.05)
    assert {r.name: (r.x0, r.x1) for r in half.regions} == {"leg": (0.0, 0.01), "primary +1": (0.012, 0.02)}
    areas = sum(r.area for r in pair().regions), sum(r.area for r in half.regions)
    assert_allclose(areas[1], areas[0] / 2, rtol=1e-12)


def test_digest_ignores_what_does_not_matter() -> None:
    section = pair()
    shuffled = replace(section, regions=section.regions[::-1])
    blurred = replace(section, outline=(-0.05 + 1e-12, -0.05, 0.05, 0.05))
    assert section.digest == shuffled.digest == blurred.digest


def test_digest_is_the_same_in_every_process() -> None:
    # Python salts its own hash() per process: a stored result would never be found again.
    code = (
        "from geometries.shapes.section import Section; print(Section(regions=(), outline=(0.0, 0.0, 0.1, 0.2)).digest)"
    )
    others = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            cwd=Path(__file__).parents[2],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        for seed in ("1", "2")
    }
    assert others == {Section(regions=(), outline=(0.0, 0.0, 0.1, 0.2)).digest}


@pytest.mark.parametrize(
    "change",
    [
        {"outline": (-0.05, -0.05, 0.05, 0.05 + 2e-9)},
        {"regions": (pair().regions[0], replace(pair().regions[1], share=0.5), pair().regions[2])},
        {"cuts": ()},
        {"cuts": (Cut(name="leg", x0=0.01, y0=0.011, x1=-0.01, y1=0.01),)},
        {"regions": pair().regions[:2]},
        {"regions": (replace(pair().regions[0], role=Role.SHUNT), *pair().regions[1:])},
        {"regions": (pair().regions[0], replace(pair().regions[1], sense=-1), pair().regions[2])},
    ],
)
def test_digest_sees_what_matters(change: dict[str, object]) -> None:
    assert replace(pair(), **change).digest != pair().digest


def test_width_of_a_cut() -> None:
    assert Cut(name="slanted", x0=0.0, y0=0.0, x1=3 * MM, y1=4 * MM).width == pytest.approx(5 * MM, rel=1e-15)
