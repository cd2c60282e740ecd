"""Cores and arrangements beyond two coils on a shell core, through the whole path."""

from math import pi, sqrt

import pytest

from fem.constants import MU0
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.one_design import estimate
from fem.estimation.stations.built.build import build
from fem.estimation.stations.built.leakage import LEAKAGE, leakage
from fem.quantity import Band, Unknown
from tests.support.kept import KEPT

SHELL = {
    "leg_width": "48 mm",
    "outer_leg_width": "24 mm",
    "yoke_height": "24 mm",
    "window_width": "26 mm",
    "window_height": "76 mm",
    "stack_depth": "64 mm",
    "joint": "butt",
    "joint_gap": "20 um",
    "steel": "M530-50A",
}
TWO_LEG = {
    "type": "two-leg",
    "leg_width": "40 mm",
    "yoke_height": "40 mm",
    "window_width": "50 mm",
    "window_height": "120 mm",
    "stack_depth": "50 mm",
    "joint": "interleaved",
    "steel": "M530-50A",
}
TWO_LEG_WINDINGS: tuple[dict[str, object], ...] = (
    {"arrangement": "concentric"},
    {"arrangement": "side-by-side", "legs": "each"},
)
ROOM = {"spacing": "3 mm", "leg_clearance": "1.5 mm", "yoke_clearance": "2 mm"}


def design(
    core: dict[str, object],
    windings: dict[str, object],
    turns: tuple[int, int],
    extra: dict[str, object] | None = None,
    build: str | None = None,
) -> Design:
    primary: dict[str, object] = {"turns": turns[0], "conductor": {"round": "1.2 mm"}}
    secondary: dict[str, object] = {"turns": turns[1], "conductor": {"strip": "10 mm x 3 mm"}}
    if build is not None:
        primary["build"] = secondary["build"] = build
    if extra is not None:
        primary["extra"] = extra
    return Design.model_validate(
        {
            "mains": {"voltage": "230 V", "frequency": "50 Hz"},
            "core": core,
            "windings": {
                **ROOM,
                **windings,
                "primary": primary,
                "secondary": secondary,
            },
        }
    )


def test_extra_turns_count_with_the_primary() -> None:
    """Aiding they lower the flux as if wound with the rest, opposing they raise it; their wire adds its resistance.

    V = sqrt(2) pi f N flux, less what source and winding drop (under 1 % idle): the transformer equation.
    """
    found = {}
    for sense, net in (("aiding", 320), ("opposing", 280)):
        extra = {"turns": 20, "conductor": {"round": "0.6 mm"}, "sense": sense}
        found[sense] = estimate(design(SHELL, {"arrangement": "side-by-side"}, (300, 3), extra), wanted=frozenset())
        assert found[sense].build.primary.turns == net
        assert found[sense].saturation.volts_per_turn * net == pytest.approx(230, rel=0.01)
    plain = estimate(design(SHELL, {"arrangement": "side-by-side"}, (300, 3)), wanted=frozenset(), characteristics=KEPT)
    # twenty turns of a quarter of the section: 20/300 x 4 of the resistance, a little more or less by their length
    added = found["aiding"].build.primary.resistance / plain.build.primary.resistance - 1
    assert added == pytest.approx(4 * 20 / 300, rel=0.1)
    assert found["aiding"].build.primary.resistance == pytest.approx(found["opposing"].build.primary.resistance)


def test_interleaving_lowers_the_leakage() -> None:
    """n sections have 2n faces between coils with 1/2n of the ampere-turns: mu0 (2n g + (h1 + h2)/3) / (w (2n)^2) per
    metre of each window, for coils as wide as the window (the sandwich winding of the textbooks; side by side is one
    face). These leave an eighth of it free, which lets the field bulge: up to a tenth more, and more the lower a coil.
    """
    for windings, faces in (
        ({"arrangement": "side-by-side"}, 1),
        ({"arrangement": "interleaved", "sections": 1}, 2),
        ({"arrangement": "interleaved", "sections": 2}, 4),
    ):
        case = Case(design=design(SHELL, windings, (228, 8), build="22.5 mm"), wanted=frozenset(), source=KEPT)
        leaks = leakage(case)
        height = sum(winding.height for winding in (build(case).primary, build(case).secondary))
        ideal = 2 * 0.064 * MU0 * (faces * 3e-3 + height / 3) / (0.026 * faces**2)
        assert 1 < leaks.window_permeance / ideal < 1.1, windings
        band = LEAKAGE.bands(case, leaks)["recipe_permeance"]
        assert isinstance(band, Band)
        assert band.low < leaks.permeance < band.high


@pytest.mark.parametrize("windings", TWO_LEG_WINDINGS)
def test_two_leg_core(windings: dict[str, object]) -> None:
    """All flux passes the leg and both yokes: B = sqrt(2) V / (2 pi f N A); a joint and the drops take under 2 %."""
    found = estimate(design(TWO_LEG, windings, (400, 4)), wanted=frozenset(), characteristics=KEPT)
    expected = sqrt(2) * 230 / (2 * pi * 50 * 400 * 0.040 * 0.050 * 0.95)
    assert found.saturation.peak_flux_density == pytest.approx(expected, rel=0.02)
    assert found.saturation.peak_flux_density_by_place["other leg"] == pytest.approx(expected, rel=0.02)
    each = "legs" in windings
    assert (isinstance(found.leakage.recipe_permeance, Unknown)) == each
    assert ("leakage.recipe_permeance_H" in found.reasons) == each


def test_windings_apart_leak_more() -> None:
    """On legs of their own each winding drives its whole ampere-turns through the air between the yokes."""
    one, apart = (
        estimate(design(TWO_LEG, windings, (400, 4)), wanted=frozenset(), characteristics=KEPT)
        for windings in TWO_LEG_WINDINGS
    )
    assert apart.leakage.permeance > 3 * one.leakage.permeance


def test_a_gap_in_the_leg_takes_its_ampere_turns() -> None:
    """A gap's ampere-turns are B g / mu0 less the fringe's share: 0.5 mm against a 48 mm leg spreads it some 5 %.

    Idle, linear gap: the added peak current is B g / (mu0 N).
    """
    gap = 0.5e-3
    tight = estimate(design(SHELL, {"arrangement": "side-by-side"}, (300, 3)), wanted=frozenset(), characteristics=KEPT)
    gapped = estimate(
        design({**SHELL, "leg_gap": "0.5 mm"}, {"arrangement": "side-by-side"}, (300, 3)), wanted=frozenset()
    )
    # of the stack: the mixture's flux density, not the iron's
    b = 0.95 * gapped.saturation.peak_flux_density
    added = gapped.idle.current_peak - tight.idle.current_peak
    assert 0.88 < added * 300 / (b * gap / MU0) < 1.0
