"""Cures by turns: more or fewer of the primary's, another secondary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fem.characteristics.resistance.direct import resistance
from fem.cures.cure import Bench, Change, Cure, faults_of, not_open
from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.digits import brief
from fem.estimation.stations.built.saturation import remedy
from fem.materials.metals import metal
from geometries.windings.arrangement import Arrangement, place
from geometries.windings.coils import coils_of
from geometries.windings.conductors import Conductor
from geometries.windings.fit import fit
from geometries.windings.lays import layers_told
from geometries.windings.turns import Sense, Winding
from geometries.windings.wire import round_diameter

_R40 = "100 106 112 118 125 132 140 150 160 170 180 190 200 212 224 236 250 265 280 300 315 335 355 375 400 425 450 475"
DIAMETERS = tuple(
    sorted(
        int(size) * step
        for size in f"{_R40} 500 530 560 600 670 710 750 800 850 900 950".split()
        for step in (1e-6, 1e-5)
    )
)
"""Bare diameters of enamelled wire [m]: preferred numbers R 40 (ISO 3), as IEC 60317-0-1 has them, from memory."""
THINNEST, THICKEST = 0.8, 1.5
"""Of a new wire for the primary's current, over what is there [-]. At 0.8 of the diameter a burst heats it 2.4 times as
fast; a choice of ours, common practice, no source."""

_SIZES = ("height", "build", "places")


def extra_turns(bench: Bench) -> Change:
    """More turns in series with the primary, aiding: as many as are needed, of the thickest wire that fits."""
    design, primary = bench.design, bench.design.windings.primary
    if (extra := primary.extra) is not None and extra.sense is Sense.OPPOSING:
        keys: dict[str, object] = {"windings.primary.extra.sense": "aiding"}
        return Change(keys=keys, do=f"swap the ends of the {extra.turns} extra turns, so that they aid", danger="mains")
    found = remedy(bench.case)
    if (more := found.extra_turns) <= 0:
        not_open(_enough(bench))
    changes = []
    for wire in _wires(primary, 1.0):
        told: dict[str, object] = {"turns": more, "conductor": wire.model_dump(exclude_unset=True)}
        if extra is not None:
            told = extra.model_dump(exclude_unset=True, exclude={*_SIZES, "lay"}) | {"turns": more + extra.turns}
        changes.append(_with_measured(design, {"windings.primary.extra": told}))
    keys = _thickest(design, changes)
    wire = design.varied(keys).windings.primary.extra.conductor  # type: ignore[union-attr]
    faster = (_area(primary) / wire.area) ** 2
    heats = f", which heats {brief(faster, 2)} times as fast as the primary's" if faster > 1.05 else ""
    do = f"wind {more} turns of {wire.label}{heats}, in series with the primary, aiding; check on reduced voltage"
    return Change(keys=keys, do=do, danger="mains")


def turns_off(bench: Bench) -> Change:
    """Fewer turns of the primary, as few as keep to the limits."""
    primary = bench.design.windings.primary
    fewer = -remedy(bench.case).extra_turns
    if fewer <= 0:
        not_open("the primary has no turn too many: flux or idle current is at its limit")
    if primary.extra is not None:
        not_open("there are extra turns: take off of those")
    turns = primary.turns - fewer
    keys: dict[str, object] = {"windings.primary.turns": turns}
    if primary.resistance is not None:
        keys |= {**_own_wire(primary), "windings.primary.resistance": primary.resistance * turns / primary.turns}
    return Change(keys=keys, do=f"take the outermost {fewer} turns off the primary", danger="mains")


def rewind_primary(bench: Bench) -> Change:
    """A new primary of the turns needed, of the thickest wire that fits."""
    design, primary = bench.design, bench.design.windings.primary
    turns = remedy(bench.case).primary_turns
    gone = dict.fromkeys(f"windings.primary.{key}" for key in (*_SIZES, "lay", "mean_turn", "resistance", "extra"))
    changes = [
        {**gone, "windings.primary.turns": turns, "windings.primary.conductor": wire.model_dump(exclude_unset=True)}
        for wire in _wires(primary, THICKEST)
    ]
    keys = _thickest(design, changes)
    if turns == primary.net_turns and keys["windings.primary.conductor"] == changes[-1]["windings.primary.conductor"]:
        not_open("it has the turns needed, and no thicker wire fits")
    wire = design.varied(keys).windings.primary.conductor
    hand = f", {primary.wires_in_hand} in hand" if primary.wires_in_hand > 1 else ""
    return Change(keys=keys, do=f"wind a new primary of {turns} turns of {wire.label}{hand}", danger="mains")


def wire_more(bench: Bench) -> Change:
    """One more conductor in hand."""
    secondary = _own_secondary(bench)
    hand = secondary.wires_in_hand + 1
    keys: dict[str, object] = {"windings.secondary.wires_in_hand": hand}
    return Change(
        keys=_room_for(bench.design, keys, secondary.wires_in_hand / hand),
        do=f"wind the secondary of {hand} of {secondary.conductor.label} in hand",
    )


def _secondary(bench: Bench, sign: int) -> Change:
    design, secondary = bench.design, _own_secondary(bench)
    step = 1
    if design.windings.arrangement is Arrangement.INTERLEAVED:
        step = design.windings.sections * (2 if design.windings.ends == "secondary" else 1)
    turns = secondary.turns + sign * step
    if turns < 1:
        not_open("it has no turn to spare")
    keys = _room_for(design, {"windings.secondary.turns": turns}, turns / secondary.turns)
    what = f"{turns} turn{'s' if turns > 1 else ''} of {secondary.conductor.label}"
    return Change(keys=keys, do=f"wind the secondary of {what}" if sign > 0 else f"take {step} off: {what} stay")


def _own_secondary(bench: Bench) -> Winding:
    if bench.is_ring:
        not_open("a ring is its own secondary, of one turn")
    return bench.design.windings.secondary


def _room_for(design: Design, keys: Mapping[str, object], ohms: float) -> dict[str, object]:
    """Return changes of the secondary with a measured resistance as it becomes, and a told size given up if need be."""
    secondary, found = design.windings.secondary, dict(keys)
    if secondary.resistance is not None:
        found["windings.secondary.resistance"] = secondary.resistance * ohms
    if secondary.places is not None or layers_told(secondary.lay):
        found |= {"windings.secondary.places": None, "windings.secondary.lay": None}
    if faults_of(design.varied(found)):
        found |= dict.fromkeys(f"windings.secondary.{key}" for key in _SIZES)
    return found


def _wires(primary: Winding, thickest: float) -> Iterator[Conductor]:
    """Yield wires for the primary's current, the thickest first; its own among them."""
    own = round_diameter(_area(primary) / (1 if thickest == 1 else primary.wires_in_hand))
    sizes = [size for size in DIAMETERS if THINNEST * own <= size <= thickest * own]
    yield from (Conductor(round=size) for size in reversed(sizes) if size > own)
    if thickest > 1 or primary.wires_in_hand == 1:
        yield primary.conductor
    yield from (Conductor(round=size) for size in reversed(sizes) if size <= own)


def _area(primary: Winding) -> float:
    return primary.wires_in_hand * primary.conductor.area


def _thickest(design: Design, changes: list[dict[str, object]]) -> dict[str, object]:
    """Return the first change that fits without new words of warning, else the first that fits, else the last."""
    tight = len(_fitted(design)[1])
    found = [(keys, *_fitted(design.varied(keys))) for keys in changes]
    fitting = [(keys, words) for keys, faults, words in found if not faults]
    easily = [keys for keys, words in fitting if len(words) <= tight]
    return (easily or [keys for keys, _ in fitting] or [changes[-1]])[0]


def _fitted(design: Design) -> tuple[int, tuple[str, ...]]:
    design = in_use(design)
    found = fit(design.core, design.windings, place(design.core, design.windings), shunt=design.shunt)
    return len(found.faults), found.warnings


def _with_measured(design: Design, keys: dict[str, object]) -> dict[str, object]:
    """Return extra turns with the primary's measured resistance, if there is one, raised by theirs."""
    primary = design.windings.primary
    if primary.resistance is None:
        return keys

    def ohms(of: Design) -> float:
        coils = coils_of(of.windings, place(of.core, of.windings))
        return sum(
            resistance(
                metal(primary.material),
                length=coil.length(of.core),
                area=coil.conductor.conducting_area,
                temperature=primary.resistance_temperature,
            )
            for coil in coils
            if coil.key == "primary.extra"
        )

    more = ohms(design.varied(keys)) - ohms(design)
    return {**keys, **_own_wire(primary), "windings.primary.resistance": primary.resistance + more}


def _own_wire(primary: Winding) -> dict[str, object]:
    """Return the primary's wire as a change: where it was taken from the resistance, it stays what it is."""
    return {"windings.primary.conductor": primary.conductor.model_dump(exclude_unset=True)}


def _enough(bench: Bench) -> str:
    limits = bench.design.limits
    flux = f"{brief(limits.flux_density)} T" if limits.idle_current is None else "its limits"
    return f"the turns there are keep to {flux}, idle"


CURES = (
    Cure(name="extra primary turns", find=extra_turns),
    Cure(name="fewer primary turns", find=turns_off),
    Cure(name="primary rewound", find=rewind_primary),
    Cure(name="one turn more", find=lambda bench: _secondary(bench, 1)),
    Cure(name="one turn less", find=lambda bench: _secondary(bench, -1)),
    Cure(name="one more in hand", find=wire_more),
)
