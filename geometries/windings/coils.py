"""The coils of each winding: a block with the turns and the conductor that fill it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from geometries.shapes.blocks import Block
from geometries.shapes.frame import Framed
from geometries.windings.arrangement import Windings
from geometries.windings.conductors import Conductor
from geometries.windings.lays import Against
from geometries.windings.turns import Winding


@dataclass(frozen=True, kw_only=True, slots=True)
class Coil:
    """One block of a winding with what fills it: the pieces of its length, resistance and mass.

    Parameters
    ----------
    block
        Where it sits.
    turns
        [-].
    conductor
        What it is wound with.
    wires_in_hand
        Conductors wound in parallel [-].
    height, build
        What the description gives of its size [m].
    key
        Where it is described: "primary", "secondary" or "primary.extra".
    lay, against
        What the description gives of how its conductors lie.
    """

    block: Block
    turns: int
    conductor: Conductor
    wires_in_hand: int
    height: float | None
    build: float | None
    key: str
    lay: str | None = None
    against: Against | None = None

    @property
    def conductors(self) -> int:
        """Conductors that pass through one window [-]."""
        return self.turns * self.wires_in_hand

    @property
    def copper_area(self) -> float:
        """Nominal conductor area of all turns in one window [m2]."""
        return self.conductors * self.conductor.area

    def length(self, core: Framed) -> float:
        """Return the length of all turns in series [m]; with two cores, of one of them."""
        return self.turns * self.block.mean_turn(*core.frame.surrounded(self.block))


def coils_of(windings: Windings, blocks: Sequence[Block]) -> tuple[Coil, ...]:
    """Return the coil that fills each block.

    Parameters
    ----------
    windings
        The windings.
    blocks
        As `place` returns them for these windings.
    """
    return tuple(coil_of(getattr(windings, block.winding), block) for block in blocks)


def coil_of(winding: Winding, block: Block) -> Coil:
    """Return the coil that fills one block of a winding, as `place` returns it for that winding."""
    extra = winding.extra
    if extra is not None and block.coil == "extra":
        return Coil(
            block=block,
            turns=extra.turns,
            conductor=extra.conductor,
            wires_in_hand=1,
            height=extra.height,
            build=extra.build,
            key=f"{block.winding}.extra",
            lay=extra.lay,
            against=extra.against,
        )
    turns = round(block.share * winding.net_turns)
    return Coil(
        block=block,
        turns=turns,
        conductor=winding.conductor,
        wires_in_hand=winding.wires_in_hand,
        height=None if winding.height is None else winding.height * turns / winding.turns,
        build=winding.build,
        key=block.winding,
        lay=winding.lay,
        against=winding.against,
    )
