"""Requests beyond what a model was made for: refused or warned of by name, never answered as if nothing were."""

from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from fem.characteristics.magnetising.shorted import check_places
from fem.characteristics.resistance.thin import wire_loss
from fem.constants import MU0
from fem.design.job import read_job
from fem.design.transformer import Design
from fem.errors import OutOfRange
from fem.estimation.case import Case
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from fem.quantity import Unknown
from fem.trust.validity import crowding, sheet_skin_depth, validity
from geometries.windings.lays import MOST_PLACED
from tests.robustness.test_bad_input import edited, rewound
from tests.support.kept import KEPT

EXAMPLE = str(files("fem") / "examples" / "bandsaw_brazing.toml")


@pytest.fixture(scope="module")
def design() -> Design:
    return read_job(EXAMPLE)


def table_up_to(flux_density: float, folder: Path) -> bytes:
    """Write a table that stops early; return the example with it."""
    curve = steel("M530-50A").curve
    rows = [f"{H},{B}" for H, B in zip(curve.H, curve.B, strict=True) if flux_density >= B]
    (folder / "table.csv").write_text("\n".join(["H_A_per_m,B_T", *rows, ""]))
    return edited(('steel = "M530-50A"', 'bh_table = "table.csv"'))


@pytest.fixture(scope="module")
def early(tmp_path_factory: pytest.TempPathFactory) -> tuple[Design, Kept]:
    """A job that needs 1.59 T idle, with a table up to 1.7 T."""
    folder = tmp_path_factory.mktemp("early")
    (folder / "job.toml").write_bytes(table_up_to(1.7, folder))
    job, kept = read_job(str(folder / "job.toml")), Kept()
    assert Case(design=job, source=kept).slopes  # with which the field is solved in one
    return job, kept


BEYOND = {
    Part.SWITCH_ON: {"switch_on"},
    Part.HALF_WAVE_SUPPLY: {"half_wave_supply"},
    Part.VOLTAGE_SWEEP: {"idle.voltage_sweep"},
    Part.METERS: {"meters.switch_on", "meters.shorted_switch_on"},
    Part.FIRST_PEAKS: {
        f"short_circuit.{name}"
        for name in (
            "secondary_first_peak_A",
            "primary_first_peak_A",
            "axial_force_N",
            "radial_force_N",
            "lead_force_N_per_m",
        )
    },
}
"""What each part takes beyond 2 T: switching on, half a wave. Joining the lead ends beforehand does so as well."""


def test_states_beyond_the_end_of_a_table_are_gaps_and_nothing_else_is(early: tuple[Design, Kept]) -> None:
    """Every part says so at its own keys, all else is as with the whole table's law below 1.7 T."""
    job, kept = early
    found = estimate(job, wanted=set(BEYOND) | {Part.SHORT_TEST, Part.WORK_PIECE}, characteristics=kept)
    assert set(found.gaps) == set().union(*BEYOND.values())
    for key in found.gaps:
        assert found.reasons[key].startswith("core.bh_table ends too early: the core would go beyond 1.")
    assert not isinstance(found.meters, Unknown)
    assert found.meters.idle_power > 0
    assert found.short_circuit.secondary_current_rms > 0
    assert not isinstance(found.short_circuit.reduced_voltage_test, Unknown)
    assert not isinstance(found.work_piece, Unknown)


def test_a_band_beyond_the_end_of_a_table_is_a_gap(early: tuple[Design, Kept]) -> None:
    """At 245 V the core needs 1.6 T, a tenth more is beyond the table; shorted it needs far less."""
    job, kept = early
    found = estimate(job.vary("mains.voltage", 245.0), wanted={Part.BANDS}, characteristics=kept)
    idle = {"idle.current_rms_A", "idle.current_peak_A", "idle.core_loss_W", "saturation.peak_flux_density_T"}
    idle |= {"open_circuit.secondary_voltage_rms_V", "supply.idle_dip"}
    assert set(found.gaps) == {f"bands.{key}" for key in idle}
    assert "would go beyond 1." in found.reasons["bands.idle.current_rms_A"]
    assert "short_circuit.secondary_current_rms_A" in found.bands


def test_a_wish_beyond_the_end_of_a_table_is_a_gap(early: tuple[Design, Kept]) -> None:
    job, kept = early
    found = estimate(job.vary("limits.flux_density", 1.9), wanted={Part.REMEDIES}, characteristics=kept)
    keys = ("fewest_primary_turns", "extra_turns", "turns_keep_to")
    assert set(found.gaps) == {f"saturation.{key}" for key in keys}
    assert isinstance(found.saturation.fewest_primary_turns, Unknown)


def test_an_idle_state_beyond_the_end_of_a_table_ends_the_estimate(early: tuple[Design, Kept]) -> None:
    """At 290 V even the idle core needs 1.9 T: nothing of the estimate would stand."""
    job, kept = early
    with pytest.raises(OutOfRange, match=r"core\.bh_table ends too early: the core would go beyond 1\.\d+ T"):
        estimate(job.vary("mains.voltage", 290.0), wanted=frozenset(), characteristics=kept)


def test_places_beyond_the_end_of_a_table_are_refused_while_shorted() -> None:
    """A law that ends at 1.2 T on average: the yoke beside the primary passes it, shunts are not asked."""
    H, B = np.array([0.0, 100.0, 200.0]), np.array([0.0, 1.0, 1.2])
    law = Reluctivity.of_lamination(BHCurve(name="t", H=H, B=B, saturation_polarisation=None, source="invented"), 1.0)
    check_places({"centre leg": 1.1, "shunt": 1.9}, law, ["shunt"])
    with pytest.raises(OutOfRange, match=r"joined the lower yoke would go beyond 1\.2 T"):
        check_places({"centre leg": 1.1, "lower yoke": 1.3}, law, [])


def test_states_within_a_table_are_told(early: tuple[Design, Kept]) -> None:
    job, kept = early
    assert estimate(job, wanted=frozenset(), characteristics=kept).saturation.peak_flux_density < 1.7


@pytest.mark.slow
def test_conductors_whose_skin_depth_no_mesh_would_follow_are_refused() -> None:
    """Ten bars of 38 mm x 90 mm at 1 kHz: 2.1 mm of skin depth, two elements in each, 0.48 mm2 an element."""
    job = {
        "mains": {"voltage": "230 V", "frequency": "1000 Hz"},
        "core": {
            "leg_width": "150 mm",
            "outer_leg_width": "75 mm",
            "yoke_height": "75 mm",
            "window_width": "150 mm",
            "window_height": "480 mm",
            "stack_depth": "150 mm",
            "joint": "butt",
            "steel": "M530-50A",
        },
        "windings": {
            "arrangement": "side-by-side",
            "spacing": "3 mm",
            "leg_clearance": "1.5 mm",
            "yoke_clearance": "2 mm",
            "primary": {"turns": 100, "conductor": {"round": "3 mm"}},
            "secondary": {"turns": 10, "conductor": {"strip": "38 mm x 90 mm"}},
        },
    }
    with pytest.raises(
        OutOfRange, match=r"skin depth at 1000 Hz takes about 7\.\de\+04 elements in 10 solid conductors"
    ):
        estimate(Design.model_validate(job), wanted=frozenset())


@pytest.mark.slow
def test_the_command_prints_what_a_short_table_allows(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes(table_up_to(1.7, tmp_path))
    done = rewound(tmp_path, "estimate", "-q", "--whole", "job.toml")
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert line.startswith("rewound: could not be computed: switch_on, idle.voltage_sweep, ")
    assert "give core.saturation_polarisation" in " ".join(done.stdout.split())


def test_conductors_that_would_overlap_are_refused_by_millimetres(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes(edited(("turns = 3\n", 'turns = 3\nheight = "15 mm"\nbuild = "12 mm"\n')))
    done = rewound(tmp_path, "estimate", "job.toml")
    assert done.returncode == 2
    # Six cables one behind the other, each a little up or down: 11.3 mm + 5 sqrt(11.3^2 - (15 - 11.3)^2) mm.
    assert done.stderr.splitlines() == [
        "job.toml: windings.secondary: 3 turns, 2 in hand, of 11.3 mm cable need a build of 64.7 mm in a "
        "height of 15.0 mm, build is 12.0 mm: 52.7 mm too little"
    ]


def test_flux_crowds_as_the_diffusion_equation_says() -> None:
    """A'' = 2j A/depth^2 across a sheet by finite differences; 400 intervals of second order leave 1e-5."""
    n, thickness = 400, 2.5
    h = thickness / n
    inner = np.full(n - 1, -2 - 2j * h**2)
    matrix = np.diag(inner) + np.diag(np.ones(n - 2), 1) + np.diag(np.ones(n - 2), -1)
    right = np.zeros(n - 1, dtype=complex)
    right[[0, -1]] = -1.0
    field = np.concatenate(([1.0], np.linalg.solve(matrix, right), [1.0]))
    mean = (field.sum() - 1.0) * h / thickness
    assert crowding(thickness) == pytest.approx(1 / abs(mean), rel=1e-4)


def test_crowding_of_thin_and_thick_sheet() -> None:
    """|1 + z^2/3 - z^4/45| = 1 + 7 x^4/360 in thin sheet; x/sqrt(2) where a skin is left at either face."""
    assert crowding(0.3) == pytest.approx(1 + 7 * 0.3**4 / 360, abs=0.3**8)
    assert crowding(20.0) == pytest.approx(20 / np.sqrt(2), rel=1e-6)


def test_skin_depth_of_sheet() -> None:
    # 503 m sqrt(rho [ohm m]/(mu_r f)), the form of the handbooks: 45e-8 ohm m, 1000, 50 Hz -> 1.509 mm
    assert sheet_skin_depth(1 / 45e-8, 1000.0, 50.0) == pytest.approx(503.29 * np.sqrt(45e-8 / (1000 * 50)), rel=1e-4)


def said(design: Design, frequency: float, flux_density: float) -> list[str]:
    return [caution.text for caution in validity(design.vary("mains.frequency", frequency), flux_density)]


@pytest.mark.parametrize(("frequency", "flux_density"), [(50.0, 1.53), (60.0, 1.3), (60.0, 1.0)])
def test_nothing_is_said_at_mains_frequency(design: Design, frequency: float, flux_density: float) -> None:
    assert said(design, frequency, flux_density) == []


def test_sheet_beyond_its_skin_depth_is_named(design: Design) -> None:
    """The number in the sentence against the closed form at the curve's own point."""
    sheet, loss = said(design, 400.0, 1.0)
    H = float(np.interp(1.0, steel("M530-50A").curve.B, steel("M530-50A").curve.H))
    mm = 1e3 * 503.29 * np.sqrt(45e-8 * MU0 * H / (400 * 1.0))
    assert f"0.5 mm thick, is {mm:.2g} mm" in sheet
    assert "in doubt by as much" in sheet
    assert "known at 50 Hz; at 400 Hz" in loss
    assert "2.8 times" in loss  # sqrt(8)


def test_borrowed_curve_is_named(design: Design) -> None:
    # M700-50A has no curve of its own (tests/published/test_materials_steel.py says which grade lends it).
    (found,) = validity(design.vary("core.steel", "M700-50A"), 1.4)
    assert "that of M800-65A stands in" in found.text


def test_sheet_of_unknown_thickness_is_said_to_be(early: tuple[Design, Kept]) -> None:
    texts = said(early[0], 400.0, 1.0)
    assert "which the job does not say" in texts[0]


def test_loss_beyond_its_data_is_named(design: Design) -> None:
    (text,) = said(design, 50.0, 1.9)
    assert text.startswith("The core loss at 1.90 T is a guess. The sheet's is known up to 1.5 T")


def test_many_thick_wires_are_named(design: Design) -> None:
    thick = design.vary("windings.primary.conductor", {"round": "2.5 mm"})
    assert design.windings.primary.conductors > MOST_PLACED
    assert 1 < wire_loss(thick.windings.primary, 1000.0, design.temperature).thickness < 1.3
    texts = [text for text in said(thick, 1000.0, 1.0) if "primary" in text]
    assert len(texts) == 1
    assert "at most 60" in texts[0]
    assert "within 50%" in texts[0]


def test_cautions_of_the_estimate_tell_them(design: Design) -> None:
    """At 400 Hz with the turns of 50 Hz the core is nearly idle and its sheet most permeable."""
    found = estimate(design.vary("mains.frequency", 400.0), wanted=frozenset(), characteristics=KEPT)
    about_model = [caution.text for caution in found.cautions if caution.about == "model"]
    assert any("At the sheet's faces flux crowds" in text for text in about_model)
