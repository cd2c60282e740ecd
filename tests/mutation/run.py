"""Prove that the tests see: change one thing in a copy, run the tests that should notice, name the one that did.

Run as a script from anywhere, or with `python -m pytest -m slow tests/mutation`:

    python tests/mutation/run.py [NAME ...]

Exit code 1 if a change goes unnoticed.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TREE = ("fem", "geometries", "tests", "pyproject.toml", "DEVELOPERS.md", "README.md")


@dataclass(frozen=True)
class Mutation:
    """One change: in a file a text that stands there once, what replaces it, and the tests that should notice."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]


FIELD = ("tests/physics/test_field_invariants.py", "tests/published/test_field_values.py", "tests/unit/test_verify.py")
SIDES = (("+", "1.02"), ("-", "0.98"))
FORCES = ("tests/physics/test_force.py", "tests/physics/test_force_arrangements.py")
SLICES = ("tests/physics/test_harmonic_arrangements.py", "tests/physics/test_harmonic_windings.py")
BY_KEY = ("tests/physics/test_planar_by_key.py",)
PATH = ("tests/physics/test_estimate.py", "tests/physics/test_estimate_bench.py")


def _both(name: str, file: str, old: str, new: str, tests: tuple[str, ...]) -> tuple[Mutation, Mutation]:
    """Return the change with FACTOR 2 % high and 2 % low: a one-sided check sees only one of them."""
    high, low = (Mutation(f"{name} {sign} 2 %", file, old, new.replace("FACTOR", f), tests) for sign, f in SIDES)
    return high, low


MUTATIONS = (
    Mutation(
        "a row of a block looked up at the first one's place",
        "fem/sweeps/rows/cells.py",
        "one = value[self.place]",
        "one = value[0]",
        ("tests/unit/test_sweep_blocks.py",),
    ),
    *_both(
        "reluctivity of linear iron",
        "fem/materials/mixture.py",
        "[1 / (MU0 * mu_r)]",
        "[FACTOR / (MU0 * mu_r)]",
        ("tests/physics/test_bh_reluctivity.py", *FIELD),
    ),
    *_both(
        "reluctivity of sheet",
        "fem/materials/mixture.py",
        "H[known] = curve.field_strength(b[known], iron_fraction)",
        "H[known] = FACTOR * curve.field_strength(b[known], iron_fraction)",
        ("tests/physics/test_bh_reluctivity.py",),
    ),
    *_both(
        "reluctivity of air",
        "fem/field/static/problem.py",
        "nu = np.full(b2.shape, 1 / MU0)",
        "nu = np.full(b2.shape, FACTOR / MU0)",
        FIELD,
    ),
    Mutation(
        "sign of the tangent's second term",
        "fem/field/static/problem.py",
        "nu_det, twice = nu * det, 2 * dnu * det",
        "nu_det, twice = nu * det, -2 * dnu * det",
        (
            "tests/unit/test_field_kernel.py",
            "tests/physics/test_field_rates.py",
        ),
    ),
    *_both(
        "ampere-turns in the field",
        "fem/field/static/problem.py",
        "total += value * self.sources[name]",
        "total += FACTOR * value * self.sources[name]",
        FIELD,
    ),
    *_both(
        "symmetry factor",
        "fem/field/static/model.py",
        "copies=2 if section.halved else 1",
        "copies=2 * FACTOR if section.halved else 1",
        ("tests/physics/test_field_invariants.py", *PATH),
    ),
    *_both(
        "magnetic constant",
        "fem/constants.py",
        "MU0 = 4e-7 * pi",
        "MU0 = FACTOR * 4e-7 * pi",
        ("tests/unit/test_verify.py",),
    ),
    *_both(
        "stacking factor",
        "fem/characteristics/laws.py",
        "lambda: Reluctivity.of_lamination(curve, stacking_factor))",
        "lambda: Reluctivity.of_lamination(curve, FACTOR * stacking_factor))",
        ("tests/physics/test_iron_laws.py", *PATH),
    ),
    *_both(
        "end turns' length",
        "geometries/shapes/blocks.py",
        "return 2 * straight + 2 * pi * (radius + depth_in_build)",
        "return FACTOR * (2 * straight + 2 * pi * (radius + depth_in_build))",
        ("tests/unit/test_windings.py",),
    ),
    *_both(
        "end turns' leakage",
        "fem/characteristics/leakage/permeance.py",
        "permeance=whole.permeance,",
        "permeance=window + FACTOR * (whole.permeance - window),",
        ("tests/physics/test_estimate.py", "tests/unit/test_verify.py"),
    ),
    *_both(
        "primary turns in the circuit",
        "fem/estimation/inputs/circuit.py",
        "primary_turns=design.windings.primary.net_turns /",
        "primary_turns=FACTOR * design.windings.primary.net_turns /",
        PATH,
    ),
    *_both(
        "resistance",
        "fem/characteristics/resistance/direct.py",
        "return float(metal.resistivity(temperature)) * length / area",
        "return FACTOR * float(metal.resistivity(temperature)) * length / area",
        PATH,
    ),
    *_both(
        "mains voltage in the circuit",
        "fem/estimation/inputs/circuit.py",
        "voltage_rms=design.mains.voltage,",
        "voltage_rms=FACTOR * design.mains.voltage,",
        PATH,
    ),
    *_both(
        "amplitude of the mains in the idle state",
        "fem/circuit/steady/core_flux.py",
        "    peak = np.sqrt(2) * circuit.voltage_rms",
        "    peak = FACTOR * np.sqrt(2) * circuit.voltage_rms",
        ("tests/physics/test_circuit.py",),
    ),
    *_both(
        "force on a coil",
        "fem/characteristics/leakage/planar.py",
        "sides[side].append(force / ampere_turns**2)",
        "sides[side].append(FACTOR * force / ampere_turns**2)",
        FORCES,
    ),
    Mutation(
        "share of turns in the force on a coil",
        "fem/characteristics/leakage/planar.py",
        "ampere_turns * r.sense * r.share)",
        "ampere_turns * r.sense)",
        FORCES,
    ),
    Mutation(
        "left side of a coil taken for the right one's image",
        "fem/characteristics/leakage/planar.py",
        "np.sum(sides[LEFT], axis=0) if sides[LEFT] else right * (-1, 1)",
        "right * (-1, 1)",
        FORCES,
    ),
    *_both(
        "depth that a coil's sides are long",
        "fem/characteristics/leakage/force.py",
        "in_window = sides * ampere_turns**2",
        "in_window = FACTOR * sides * ampere_turns**2",
        FORCES,
    ),
    Mutation(
        "sense of opposing turns in the slice",
        "fem/characteristics/resistance/parts.py",
        "p.sign * senses[side] for side",
        "senses[side] for side",
        SLICES,
    ),
    Mutation(
        "direction of the other leg in the slice",
        "geometries/assembly/conductors.py",
        "sense=side * self.direction",
        "sense=side",
        SLICES,
    ),
    *_both(
        "loss of a wire in the slice's field",
        "fem/characteristics/resistance/slice.py",
        "whole += 2 * p.coil.conductors *",
        "whole += 2 * FACTOR * p.coil.conductors *",
        SLICES,
    ),
    *_both(
        "rise of the machine's resistance in a burst",
        "fem/work/line.py",
        "np.maximum(risen + slope * (time - since), 0.0)",
        "np.maximum(FACTOR * (risen + slope * (time - since)), 0.0)",
        ("tests/physics/test_fed_burst.py",),
    ),
    *_both(
        "mean square of a burst",
        "fem/estimation/inputs/working.py",
        "rows.append(np.trapezoid(values, run.time) / run.time[-1])",
        "rows.append(FACTOR * np.trapezoid(values, run.time) / run.time[-1])",
        ("tests/physics/test_fed_burst.py",),
    ),
    Mutation(
        "skin depth in sheet",
        "fem/trust/validity.py",
        "return 1 / sqrt(pi * frequency",
        "return 1 / sqrt(2 * pi * frequency",
        ("tests/robustness/test_validity.py",),
    ),
    Mutation(
        "dilation of a moving field",
        "fem/field/static/shape.py",
        "dilation, means = -(xx + yy)",
        "dilation, means = -0.999 * (xx + yy)",
        BY_KEY,
    ),
    Mutation(
        "saturation in a moving field",
        "fem/field/static/shape.py",
        "* (2 * mesh.weights * dnu)",
        "* (1.999 * mesh.weights * dnu)",
        BY_KEY,
    ),
    Mutation(
        "cuts carried by their mesh",
        "fem/field/static/shape.py",
        "relative = motion - np.einsum",
        "relative = motion - 0.99 * np.einsum",
        BY_KEY,
    ),
    Mutation(
        "rows of a steel behind a derivative",
        "fem/materials/varied.py",
        "change[:, known] = -dJ * dH_db",
        "change[:, known] = -0.999 * dJ * dH_db",
        BY_KEY,
    ),
)


def noticed_by(mutation: Mutation) -> str | None:
    """Return the test that fails on the changed copy and passes on the unchanged one, or None where all pass."""
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        tree = Path(folder)
        for name in TREE:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("__pycache__", "*.png"))
            else:
                shutil.copy(source, tree / name)
        file = tree / mutation.file
        text = file.read_text("utf-8")
        if text.count(mutation.old) != 1:
            msg = f"{mutation.name}: {mutation.old!r} stands {text.count(mutation.old)} times in {mutation.file}"
            raise ValueError(msg)
        file.write_text(text.replace(mutation.old, mutation.new), "utf-8")
        changed = _tested(tree, mutation.tests)
        if changed.returncode == 0:
            return None
        failed = re.findall(r"^(?:FAILED|ERROR) (\S+?::.+?)(?: - .*)?$", changed.stdout, flags=re.MULTILINE)
        if not failed:
            msg = f"{mutation.name}: the tests did not run\n{changed.stdout[-2000:]}\n{changed.stderr[-2000:]}"
            raise RuntimeError(msg)
        # A test that fails anyway has noticed nothing.
        file.write_text(text, "utf-8")
        unchanged = _tested(tree, failed[:1])
        if unchanged.returncode != 0:
            msg = f"{failed[0]} does not pass without this change either: {mutation.name}\n{unchanged.stdout[-2000:]}"
            raise RuntimeError(msg)
    return str(failed[0])


def _tested(tree: Path, tests: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run tests of a tree as the default run does, up to the first that fails."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True, check=False)


def main(names: list[str]) -> int:
    """Try the mutations, two at a time, and print which test noticed each."""
    chosen = [m for m in MUTATIONS if not names or any(name in m.name for name in names)]
    with ThreadPoolExecutor(max_workers=2) as pool:
        found = list(pool.map(noticed_by, chosen))
    for mutation, test in zip(chosen, found, strict=True):
        print(f"{mutation.name:48s} {test or 'NOT NOTICED'}")
    missed = found.count(None)
    print(f"{len(found) - missed} of {len(found)} noticed")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
