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
PATH = ("tests/physics/test_estimate.py", "tests/physics/test_estimate_bench.py")

MUTATIONS = (
    Mutation(
        "reluctivity of linear iron + 2 %",
        "fem/materials/mixture.py",
        "[1 / (MU0 * mu_r)]",
        "[1.02 / (MU0 * mu_r)]",
        ("tests/physics/test_bh_reluctivity.py", *FIELD),
    ),
    Mutation(
        "reluctivity of sheet + 2 %",
        "fem/materials/mixture.py",
        "H[known] = curve.field_strength(b[known], iron_fraction)",
        "H[known] = 1.02 * curve.field_strength(b[known], iron_fraction)",
        ("tests/physics/test_bh_reluctivity.py",),
    ),
    Mutation(
        "reluctivity of air + 2 %",
        "fem/field/problem.py",
        "nu = np.full(b2.shape, 1 / MU0)",
        "nu = np.full(b2.shape, 1.02 / MU0)",
        FIELD,
    ),
    Mutation(
        "sign of the tangent's second term",
        "fem/field/problem.py",
        "nu_det, twice = nu * det, 2 * dnu * det",
        "nu_det, twice = nu * det, -2 * dnu * det",
        ("tests/unit/test_field_kernel.py", "tests/physics/test_field_rates.py"),
    ),
    Mutation(
        "ampere-turns in the field + 2 %",
        "fem/field/problem.py",
        "total += value * self.sources[name]",
        "total += 1.02 * value * self.sources[name]",
        FIELD,
    ),
    Mutation(
        "symmetry factor + 2 %",
        "fem/field/model.py",
        "copies=2 if section.halved else 1",
        "copies=2.04 if section.halved else 1",
        ("tests/physics/test_field_invariants.py", *PATH),
    ),
    Mutation(
        "magnetic constant + 2 %",
        "fem/constants.py",
        "MU0 = 4e-7 * pi",
        "MU0 = 1.02 * 4e-7 * pi",
        ("tests/unit/test_verify.py",),
    ),
    Mutation(
        "stacking factor - 2 %",
        "fem/characteristics/iron.py",
        "iron = Reluctivity.of_lamination(curve, stacking_factor)",
        "iron = Reluctivity.of_lamination(curve, 0.98 * stacking_factor)",
        PATH,
    ),
    Mutation(
        "end turns' length + 2 %",
        "geometries/blocks.py",
        "return 2 * straight + 2 * pi * (radius + depth_in_build)",
        "return 1.02 * (2 * straight + 2 * pi * (radius + depth_in_build))",
        ("tests/unit/test_windings.py",),
    ),
    Mutation(
        "end turns' leakage + 2 %",
        "fem/characteristics/leakage.py",
        "permeance=whole.permeance,",
        "permeance=whole.permeance + 0.02 * (whole.permeance - window),",
        PATH,
    ),
    Mutation(
        "primary turns in the circuit + 2 %",
        "fem/study/network.py",
        "primary_turns=design.windings.primary.turns,",
        "primary_turns=round(1.02 * design.windings.primary.turns),",
        PATH,
    ),
    Mutation(
        "resistance + 2 %",
        "fem/characteristics/resistance.py",
        "return float(metal.resistivity(temperature)) * length / area",
        "return 1.02 * float(metal.resistivity(temperature)) * length / area",
        PATH,
    ),
    Mutation(
        "mains voltage in the circuit + 2 %",
        "fem/study/network.py",
        "voltage_rms=design.mains.voltage,",
        "voltage_rms=1.02 * design.mains.voltage,",
        PATH,
    ),
    Mutation(
        "amplitude of the mains in the idle state + 2 %",
        "fem/lumped/idle.py",
        "    peak = np.sqrt(2) * circuit.voltage_rms",
        "    peak = 1.02 * np.sqrt(2) * circuit.voltage_rms",
        ("tests/physics/test_circuit.py",),
    ),
)


def noticed_by(mutation: Mutation) -> str | None:
    """Return the test that fails on the changed copy, or None where all pass."""
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
        command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *mutation.tests]
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
        done = subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True, check=False)
    if done.returncode == 0:
        return None
    failed = re.findall(r"^(?:FAILED|ERROR) (\S+)", done.stdout, flags=re.MULTILINE)
    if not failed:
        msg = f"{mutation.name}: the tests did not run\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}"
        raise RuntimeError(msg)
    return failed[0]


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
