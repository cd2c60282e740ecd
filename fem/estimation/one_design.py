"""One design in, everything the tool knows about it out: the loop over the stations."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Set
from functools import partial
from typing import Any

from fem.characteristics.characterise import Progress
from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.estimation.bands import station_bands, told
from fem.estimation.case import Case
from fem.estimation.cautions import cautions
from fem.estimation.fields.source import Solved, Source
from fem.estimation.once import attempt
from fem.estimation.parts import EVERYTHING, Part
from fem.estimation.pictures import pictures
from fem.estimation.provenance import provenance
from fem.estimation.result import Estimate
from fem.estimation.stations.in_order import STATIONS
from fem.estimation.stations.section import Station
from fem.quantity import Band, Unknown, json_key
from fem.threads import one_thread
from fem.trust.draws import Draws

_SOLVED = Solved()


@one_thread()
def estimate(
    design: Design,
    *,
    wanted: Set[Part] = EVERYTHING,
    characteristics: Source = _SOLVED,
    progress: Progress | None = None,
    known: Draws | None = None,
) -> Estimate:
    """Estimate one design; a part that cannot be computed is a gap, everything else stands.

    Parameters
    ----------
    design
        What is built and what it is plugged into.
    wanted
        Which of the costly parts to compute; the others are unknown with that reason.
    characteristics
        Where the fields' curves and numbers come from; for pictures slices are solved, as only their ratios are kept.
    progress
        Told in words what is under way.
    known
        Draws of what is in doubt, 256 of as many as there are, where readings say more of it than the design: bands
        are made of them (`fem.fitting.fit.Fit.draws`).

    Raises
    ------
    DoesNotFit
        If the windings do not go into the window.
    OutOfRange
        If the core would go beyond the end of a B-H table when idle, or conductors take too fine a mesh.
    NotConverged
        If the fields or the idle state cannot be solved.
    ValueError
        If a B-H table is not usable.
    """
    tell = progress or (lambda _: None)
    case = Case(design=in_use(design), wanted=wanted, source=characteristics, tell=tell, known=known)
    bands: dict[str, Band | Unknown] = {}
    if Part.BANDS in wanted:
        case.slopes  # noqa: B018  fields and their derivatives are solved together

    def after(station: Station, found: dict[str, Any]) -> None:
        if Part.BANDS in wanted:
            bands.update(_bands(case, station, found[station.key]))

    found = sections(case, after)
    estimated = Estimate(
        title=design.title,
        **found,
        bands=bands,
        cautions=cautions(case, found, bands),
        provenance=provenance(case),
        design=design,
        pictures=pictures(case) if Part.PICTURES in wanted else None,
        assumed=design.taken,
        left_out=design.left_out,
    )
    tell("done")
    return estimated


def sections(case: Case, after: Callable[[Station, dict[str, Any]], None] = lambda *_: None) -> dict[str, Any]:
    """Return what every station finds by its key, of one design or of a block; `after` is told after each.

    Raises
    ------
    DoesNotFit, OutOfRange, NotConverged, ValueError
        As `estimate`; of a block also where a single section of one of them fails.
    """
    found: dict[str, Any] = {}
    for station in STATIONS:
        if station.part is None:
            found[station.key] = station.compute(case)
        else:
            if station.part in case.wanted:
                case.tell(station.part.value)
            found[station.key] = case.part(station.part, partial(station.compute, case))
        after(station, found)
    return found


def _bands(case: Case, station: Station, result: Any) -> Iterator[tuple[str, Band | Unknown]]:
    if isinstance(result, Unknown):
        return
    bands = station_bands(case, station, result)
    own = attempt(partial(station.bands, case, result))
    if isinstance(own, Unknown):
        yield station.key, own
    else:
        bands = {**bands, **own}
    for path, band in bands.items():
        known = band if isinstance(band, Unknown) else band.around(told(result, path))
        yield f"{station.key}.{json_key(result, path)}", known
