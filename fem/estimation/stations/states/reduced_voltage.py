"""The short test on reduced voltage: at which current, and what the meters then show."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fem.assumptions import assumed
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.circuit.steady.short_circuit import ShortTest, short_test
from fem.design.transformer import Design
from fem.digits import brief
from fem.errors import OutOfRange
from fem.quantity import extended, of


@dataclass(frozen=True, kw_only=True, slots=True)
class ChosenTest(ShortTest):
    """Lead ends joined, reduced voltage on the primary."""

    chosen: str = of("", "why this current")


DENSITY = assumed("current density of the short-circuit test").typical
"""In the primary where no current is chosen [A/m2]: a small transformer's winding carries it for long."""
SHARE = 0.5
"""At most so much of what the mains voltage drives, where no current is chosen [-]: the test then needs about half of
that voltage, which leaves a variable transformer room on both sides."""


def reduced_voltage_test(design: Design, circuit: Circuit, taken: Circuit | None = None) -> ChosenTest:
    """Return the test at the chosen current, else at one by the design: by the circuit it is taken to have.

    Raises
    ------
    OutOfRange
        If the mains voltage does not drive the chosen current.
    """
    given, driven = design.limits.short_test_current, _driven(taken or circuit)
    if given is None:
        carried = DENSITY * _least_primary_area(design)
        current = min(carried, SHARE * driven)
        chosen = f"{DENSITY / 1e6:g} A/mm2 in the primary's wire"
        if carried > current:
            chosen = f"{SHARE:.0%} of the {brief(driven)} A that the mains drives"
    elif given <= driven:
        current, chosen = given, "as chosen"
    else:
        msg = f"limits.short_test_current is {given:g} A; with the lead ends joined the mains drives {brief(driven)} A"
        raise OutOfRange(msg)
    return extended(ChosenTest, short_test(circuit, current), chosen=chosen)


def _driven(circuit: Circuit) -> float:
    """Return the primary current with the mains voltage at the terminals and the lead ends joined [A]."""
    return loaded(replace(circuit, source_resistance=0.0, source_inductance=0.0), 0.0).primary_current_rms


def _least_primary_area(design: Design) -> float:
    """Return the primary's section where it is least: extra turns may be of thinner wire [m2]."""
    primary = design.windings.primary
    least = primary.wires_in_hand * primary.conductor.area
    if primary.extra is not None:
        least = min(least, primary.extra.conductor.area)
    return design.core.parallel_primaries * least
