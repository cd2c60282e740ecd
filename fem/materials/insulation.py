"""Temperatures that insulation stands: in work, and once."""

from dataclasses import dataclass
from functools import cache

from fem.constants import ZERO_CELSIUS
from geometries.described.faults import not_known
from geometries.described.tables import table_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Insulation:
    """Hold what an insulation class or a cable's jacket stands.

    Parameters
    ----------
    name, source
        What it is called, and where its figures come from.
    working_temperature
        At the hottest spot, day in day out [K].
    hot_spot_allowance
        How far the mean temperature of the winding must stay below that [K]; 0 for a cable.
    once_temperature
        Mean temperature at which it is given up after one fault of seconds [K]; not for repeated bursts.
    """

    name: str
    working_temperature: float
    hot_spot_allowance: float
    once_temperature: float
    source: str

    @property
    def mean_limit(self) -> float:
        """Highest mean temperature in repeated work [K]: what a node of the heat network is held against."""
        return self.working_temperature - self.hot_spot_allowance


@cache
def insulations() -> dict[str, Insulation]:
    """Return insulation classes and cable jackets by name."""
    return {
        row["name"]: Insulation(
            name=row["name"],
            working_temperature=float(row["working_degC"]) + ZERO_CELSIUS,
            hot_spot_allowance=float(row["hot_spot_allowance_K"]),
            once_temperature=float(row["once_degC"]) + ZERO_CELSIUS,
            source=row["source"],
        )
        for row in table_rows(__package__, "insulation.csv")
    }


def insulation(name: str = "class A") -> Insulation:
    """Return one insulation class or jacket; class A where the age of a salvaged winding is unknown.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    known = insulations()
    if name not in known:
        raise ValueError(not_known(name, known, "insulation"))
    return known[name]
