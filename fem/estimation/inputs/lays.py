"""How few turns lie, in words, and what the leakage would be if they lay otherwise than was taken."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from math import ceil, log, pi, sqrt

from fem.assumptions import assumed
from fem.characteristics.leakage.own_field import own_field
from fem.characteristics.leakage.permeance import shunt_bar
from fem.characteristics.leakage.recipe import end_recipe, no_recipe_reason, window_per_m_linear
from fem.constants import MU0
from fem.design.transformer import Design
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt
from geometries.shapes.blocks import MOST_SINGLE, Block, coil_parts, single_blocks
from geometries.windings.arrangement import Arrangement, Legs, Windings, place
from geometries.windings.coils import Coil, coils_of
from geometries.windings.fit import fit
from geometries.windings.lays import ACROSS, ALONG, Against, lay
from geometries.windings.turns import ExtraTurns, Winding


def own_fields(design: Design, blocks: Sequence[Block]) -> tuple[float, float]:
    """Return what the own field of turns in even blocks adds to the permeance in the window and at the ends [H]."""
    window, ends = 0.0, 0.0
    for coil, (block, parts) in zip(coils_of(design.windings, blocks), coil_parts(blocks), strict=True):
        if parts != (block,):
            continue
        conductor = coil.conductor
        laid = lay(replace(coil, height=block.height), block.build)
        inside, outside = own_field(
            design.core,
            block,
            conductors=coil.conductors,
            layers=laid.layers,
            width=conductor.bare_width,
            height=conductor.bare_height,
            circular=conductor.circular,
        )
        window, ends = window + inside, ends + outside
    return window, ends


def strands_doubt(design: Design, blocks: Sequence[Block]) -> tuple[float, float]:
    """Return by how much the leakage may be lower and higher [H] for how close strands lie in cables' circles.

    A circle of another diameter has mu0 / (2 pi) ln(d / d') more self-inductance per metre and conductor, its share of
    the ampere-turns squared: of one turn some 1 %, of n conductors the nth part.
    """
    fill, frame = assumed("strands in a cable"), design.core.frame
    below, above = 0.0, 0.0
    for coil in coils_of(design.windings, blocks):
        conductor, block = coil.conductor, coil.block
        if conductor.cable is None:
            continue
        stacks = 1 if block.round_both else frame.stacks
        per_turn = MU0 / (2 * pi) * coil.length(design.core) / coil.turns * stacks * block.share**2 / coil.conductors
        most = conductor.insulated_width
        loose, taken, close = (
            min(conductor.bare_width * sqrt(fill.typical / f), most) for f in (fill.low, fill.typical, fill.high)
        )
        below, above = below + per_turn * log(loose / taken), above + per_turn * log(taken / close)
    return below, above


def lay_text(windings: Windings, blocks: Sequence[Block], name: str) -> str:
    """Say how a winding lies: layers, whether its conductors are placed one by one, and what nobody told."""
    winding: Winding = getattr(windings, name)
    coils = [
        (coil, parts)
        for coil, (block, parts) in zip(coils_of(windings, blocks), coil_parts(blocks), strict=True)
        if block.winding == name
    ]
    text = f"{winding.turns} turn{'s' if winding.turns > 1 else ''}"
    text += f" x {winding.wires_in_hand} in hand" if winding.wires_in_hand > 1 else ""
    text += _lying(winding, [(coil, parts) for coil, parts in coils if coil.block.coil != "extra"])
    extra = winding.extra
    if extra is None:
        return text
    text += f"; {extra.turns} extra turn{'s' if extra.turns > 1 else ''}"
    return text + _lying(extra, [(coil, parts) for coil, parts in coils if coil.block.coil == "extra"])


def _lying(wound: Winding | ExtraTurns, coils: Sequence[tuple[Coil, tuple[Block, ...]]]) -> str:
    if wound.places is not None:
        return ", in the places given"
    coil, parts = coils[0]
    laid = lay(replace(coil, height=coil.block.height), coil.block.build)
    counts = " + ".join(map(str, laid.counts)) if laid.layers < 5 else f"{laid.layers} layers of {laid.per_layer}"
    text = f", {counts} from the leg outwards" + (" in a coil" if len(coils) > 1 else "")
    if parts == (coil.block,):
        return f"{text}, an even block"
    single = sum(len(found) for _, found in coils)
    text += f", {single} conductor{'s' if single > 1 else ''} placed one by one"
    return text + ("; nobody told the lay, this is taken" if wound.lay is None and single > 1 else "")


def places_text(blocks: Sequence[Block], name: str) -> str:
    """List the centres of a winding's single conductors; empty where it stays a block."""
    found = []
    for block, parts in coil_parts(blocks):
        if block.winding == name and parts != (block,):
            found += [(block.leg_clearance + place.x, block.bottom + place.y) for place in block.places]
    return ", ".join(f"{1e3 * x:.1f} | {1e3 * y:.1f}" for x, y in found)


@lru_cache(maxsize=64)
def other_lays(core: AnyCore, windings: Windings, shunt: Shunt | None) -> tuple[float, float]:
    """Return between which factors the leakage lies for all lays that fit and that nobody ruled out [-].

    By the 2-D recipe for each, against that for the lay taken; where there is none by the window alone. The lay taken
    is one of them, so the first is at most 1 and the second at least 1.

    Parameters
    ----------
    core, windings, shunt
        What is built; shunts that are fitted.
    """
    taken = place(core, windings)
    ratios, known = [1.0], {single_blocks(taken)}
    first = 0.0
    for other in _others(windings, taken):
        blocks = place(core, other)
        parts = single_blocks(blocks)
        if parts in known or not fit(core, other, blocks, shunt=shunt).fits:
            continue
        known.add(parts)
        first = first or quick_leakage(core, taken, shunt)
        ratios.append(quick_leakage(core, blocks, shunt) / first)
    return min(ratios), max(ratios)


def _others(windings: Windings, blocks: Sequence[Block]) -> Iterator[Windings]:
    """Yield the windings with each lay of one of them that was not told: layers, and touching where it was spread."""
    spread = windings.arrangement is Arrangement.CONCENTRIC or windings.legs is Legs.EACH
    for name in ("primary", "secondary", "extra"):
        winding: Winding | ExtraTurns | None = windings.primary.extra if name == "extra" else getattr(windings, name)
        if winding is None or not 1 < winding.conductors <= MOST_SINGLE or winding.places is not None:
            continue
        count = winding.conductors
        lays: list[str | None] = [winding.lay]
        if winding.lay is None and windings.arrangement is Arrangement.INTERLEAVED and name != "extra":
            lays += [ALONG, ACROSS]
        elif winding.lay is None:
            lays += [ACROSS] + [text for per_layer in range(1, count + 1) for text in _even(count, per_layer)]
        for told in lays:
            ways = {winding.against}
            if spread and winding.against is None and winding.height is None:
                ways |= {Against.LEG}
            for against in ways:
                changed = {name: winding.model_copy(update={"lay": told, "against": against})}
                if name == "extra":
                    changed = {"primary": windings.primary.model_copy(update=changed)}
                yield windings.model_copy(update=changed)


def _even(count: int, per_layer: int) -> set[str]:
    """Return full layers and what is left outside of them or at the leg."""
    full = ceil(count / per_layer) - 1
    counts = (per_layer,) * full + (count - full * per_layer,)
    return {" + ".join(map(str, each)) for each in (counts, counts[::-1])}


def quick_leakage(core: AnyCore, blocks: tuple[Block, ...], shunt: Shunt | None) -> float:
    """Return the leakage by the 2-D recipe, where there is none that of the window per metre: to compare lays by [H].

    `shunt` is one that is fitted.
    """
    shape, parts = core.frame.closed, single_blocks(blocks)
    bars = () if shunt is None else (shunt_bar(core, blocks, shunt),)
    plain = window_per_m_linear(shape, parts)
    window = window_per_m_linear(shape, parts, shunts=bars) if bars else plain
    if no_recipe_reason(shape, parts) is not None:
        return window
    return end_recipe(shape, parts, window, shunts=bars, unshunted_window_per_m=plain)
