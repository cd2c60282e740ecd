"""How many turns shall the secondary have? The example's core with one to three, the rest as it is."""

from importlib.resources import as_file

from fem.design.job import read_job
from fem.estimation.one_design import estimate
from fem.estimation.result import Estimate
from fem.examples import example


def sweep(turns: range) -> dict[int, Estimate]:
    """Return the estimate for each number of secondary turns."""
    with as_file(example()) as path:
        design = read_job(path)
    return {n: estimate(design.vary("windings.secondary.turns", n)) for n in turns}


def main() -> None:
    """Print one line for each number of turns."""
    print("turns  no load   shorted   into the blade")
    for n, found in sweep(range(1, 4)).items():
        assert found.load, "the example has a load"
        print(
            f"{n:5d}  {found.open_circuit.secondary_voltage_rms:5.2f} V  "
            f"{found.short_circuit.secondary_current_rms:6.0f} A  "
            f"{found.load.current_rms:6.0f} A, {found.load.power:5.0f} W"
        )


if __name__ == "__main__":
    main()
