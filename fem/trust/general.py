"""What always holds at this work, each with its number and where that number stands: general.csv."""

from functools import cache

from fem.trust.caution import Caution, Danger
from geometries.described.tables import table_rows


@cache
def always() -> tuple[Caution, ...]:
    """Return what is said with every estimate."""
    return tuple(
        Caution(about=row["about"], text=row["text"], danger=Danger(row["danger"]), source=row["source"], general=True)
        for row in table_rows(__package__, "general.csv")
    )
