"""What an estimate holds: its sections, and what is said about them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from fem.design.transformer import Design
from fem.design.typical import LeftOut, Taken
from fem.estimation.pictures import Pictures
from fem.estimation.provenance import Provenance
from fem.estimation.stations.bench.heating import Heating
from fem.estimation.stations.bench.meters import BenchMeters
from fem.estimation.stations.bench.supply import Supply
from fem.estimation.stations.bench.work_piece import WorkPieceState
from fem.estimation.stations.built.build import Build
from fem.estimation.stations.built.cut_list import CutList
from fem.estimation.stations.built.joints import JointsState
from fem.estimation.stations.built.leakage import Leakage
from fem.estimation.stations.built.saturation import Saturation
from fem.estimation.stations.in_order import STATIONS
from fem.estimation.stations.states.half_wave import HalfWaveSupply
from fem.estimation.stations.states.idle import Idle
from fem.estimation.stations.states.load import LoadState
from fem.estimation.stations.states.load_line import LoadLineState
from fem.estimation.stations.states.milliohms import Milliohms
from fem.estimation.stations.states.open_circuit import OpenCircuit
from fem.estimation.stations.states.short_circuit import ShortCircuit
from fem.estimation.stations.states.switch_on import SwitchOn
from fem.quantity import Band, Unknown, plain, unknowns
from fem.trust.caution import Caution

if TYPE_CHECKING:
    from fem.estimation.explained import Explained


@dataclass(frozen=True, kw_only=True, slots=True, eq=False, repr=False)
class Estimate:
    """All results of one design; attributes are SI numbers without units in their names.

    Parameters
    ----------
    title
        From the design.
    build, joints, saturation, idle, leakage, open_circuit, short_circuit, load, switch_on, half_wave_supply,
    load_line, work_piece, milliohms, heating, supply, meters, cut_list
        The sections, one for each station; `Unknown` with its reason where there is none.
    bands
        By dotted JSON key, where one is known or should be.
    cautions
        What to mind, general ones last.
    provenance
        Versions, digests, mesh sizes, discretisation errors.
    design
        What it is of; not part of the JSON.
    pictures
        Fields and curves for figures; not part of the JSON.
    assumed
        What was taken in place of keys that the job does not tell.
    left_out
        Sections that the job does not have, each with what therefore is not told.
    """

    title: str
    build: Build
    joints: JointsState
    saturation: Saturation
    idle: Idle
    leakage: Leakage
    open_circuit: OpenCircuit
    short_circuit: ShortCircuit
    load: LoadState | Unknown
    switch_on: SwitchOn | Unknown
    half_wave_supply: HalfWaveSupply | Unknown
    load_line: LoadLineState | Unknown
    work_piece: WorkPieceState | Unknown
    milliohms: Milliohms | Unknown
    heating: Heating | Unknown
    supply: Supply
    meters: BenchMeters | Unknown
    cut_list: CutList | Unknown
    bands: Mapping[str, Band | Unknown]
    cautions: tuple[Caution, ...]
    provenance: Provenance
    design: Design | None = field(default=None, repr=False)
    pictures: Pictures | None = field(repr=False)
    assumed: tuple[Taken, ...] = ()
    left_out: tuple[LeftOut, ...] = ()

    @property
    def drawn(self) -> Pictures:
        """The fields and curves for figures.

        Raises
        ------
        ValueError
            If they were not asked for.
        """
        if self.pictures is None:
            msg = "the estimate keeps no fields and curves to draw; ask for fem.Part.PICTURES in wanted"
            raise ValueError(msg)
        return self.pictures

    @property
    def unknowns(self) -> dict[str, Unknown]:
        """All that is not known, by dotted JSON key; "bands." before a band's."""
        found: dict[str, Unknown] = {}
        for station in STATIONS:
            found |= unknowns(station.key, getattr(self, station.key))
        return found | dict(unknowns("bands", self.bands))

    @property
    def reasons(self) -> dict[str, str]:
        """Why results are not known, by dotted JSON key."""
        return {key: unknown.reason for key, unknown in self.unknowns.items()}

    @property
    def gaps(self) -> tuple[str, ...]:
        """Keys of `reasons` that were asked for and described, but could not be computed."""
        return tuple(key for key, unknown in self.unknowns.items() if unknown.gap)

    def __repr__(self) -> str:
        """Return title and a handful of numbers, in one line."""
        from fem.estimation.shown import line

        return line(self)

    def _repr_html_(self) -> str:
        from fem.estimation.shown import table

        return table(self)

    def explain(self, key: str) -> Explained:
        """Explain one result by its JSON key: what it is, the formula, what goes in, its band, where it comes from.

        Raises
        ------
        NoSuchResult
            If no result has that key; names the nearest ones.
        """
        from fem.estimation.explained import explain

        return explain(self, key)

    def to_dict(self) -> dict[str, Any]:
        """Return plain nested dictionaries with units in the keys, ready for JSON."""
        out: dict[str, Any] = {"title": self.title}
        for station in STATIONS:
            out[station.key] = plain(getattr(self, station.key))
        out["bands"] = {key: plain(band) for key, band in self.bands.items() if isinstance(band, Band)}
        out["reasons"] = self.reasons
        out["gaps"] = list(self.gaps)
        out["cautions"] = [plain(caution) for caution in self.cautions]
        out["assumed"] = [plain(taken) for taken in self.assumed]
        out["left_out"] = [plain(section) for section in self.left_out]
        out["provenance"] = plain(self.provenance)
        return out
