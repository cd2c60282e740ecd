"""Temperatures that insulation stands: in work, and once."""

from dataclasses import dataclass
from functools import cache

from geometries.described.tables import table_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Insulation:
    """Hold what an insulation class or a cable's jacket stands.

    Parameters
    ----------
    name : str
    working_temperature : float
        At the hottest spot, day in day out [K].
    hot_spot_allowance : float
        How far the mean temperature of the winding must stay below that [K]; 0 for a cable.
    once_temperature : float
        Mean temperature at which it is given up after one fault of seconds [K]; not for repeated bursts.
    source : str
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
            working_temperature=float(row["working_degC"]) + 273.15,
            hot_spot_allowance=float(row["hot_spot_allowance_K"]),
            once_temperature=float(row["once_degC"]) + 273.15,
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
        msg = f"no insulation {name!r}; there are {', '.join(known)}"
        raise ValueError(msg)
    return known[name]
