"""The bodies between the lead ends in the order in which the current meets them."""

from dataclasses import dataclass, replace

from fem.arrays import not_negative
from fem.work.bodies import Bar, Jaw, Joint, Surroundings

PERFECT = Joint()


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Beside:
    """Hold a second path between the same jaws, such as the rest of a closed blade or the other half of a ring.

    Parameters
    ----------
    bar
        All of it.
    contact
        Of either of its ends and the jaw.
    loop_inductance
        Of the loop that both paths close [H].
    """

    bar: Bar
    contact: Joint = PERFECT
    loop_inductance: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a negative inductance."""
        not_negative(loop_inductance=self.loop_inductance)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class WorkPiece:
    """Hold everything between the lead ends in the order in which the current meets it.

    Parameters
    ----------
    left, right
        The jaws at the lead ends.
    bars
        At least one of them work.
    joints
        Between one bar and the next, one fewer than bars.
    surroundings
        Of all bars.
    beside
        A second path from jaw to jaw, or None.
    is_secondary
        Whether it is a ring round the leg: what a circuit has as its secondary's resistance is then its own, cold.
    """

    left: Jaw
    right: Jaw
    bars: tuple[Bar, ...]
    joints: tuple[Joint, ...] = ()
    surroundings: Surroundings
    beside: Beside | None = None
    is_secondary: bool = False

    def __post_init__(self) -> None:
        """Refuse a chain without work or with a joint too many or too few."""
        if not any(bar.is_work for bar in self.bars):
            msg = f"none of {len(self.bars)} bars is work"
            raise ValueError(msg)
        if len(self.joints) != len(self.bars) - 1:
            msg = f"{len(self.bars)} bars need {len(self.bars) - 1} joints, got {len(self.joints)}"
            raise ValueError(msg)

    @property
    def contacts(self) -> tuple[Joint, ...]:
        """All contacts from the left jaw to the right."""
        return (self.left.contact, *self.joints, self.right.contact)


def clamped(bar: Bar, jaw: Jaw, surroundings: Surroundings, *, brazed: Joint | None = None) -> WorkPiece:
    """Clamp a bar between two equal jaws, with a joint in its middle if one is given.

    Parameters
    ----------
    bar
        Its length is that between the jaws; the cells are shared by the halves.
    jaw
        At either end.
    surroundings
        Of all bars.
    brazed
        In the middle, as the lap of a blade being brazed.
    """
    if brazed is None:
        return WorkPiece(left=jaw, right=jaw, bars=(bar,), surroundings=surroundings)
    half = replace(bar, length=bar.length / 2, cells=max(bar.cells // 2, 4))
    return WorkPiece(left=jaw, right=jaw, bars=(half, half), joints=(brazed,), surroundings=surroundings)


def between_carbons(work: Bar, carbon: Bar, contact: Joint, holder: Jaw, surroundings: Surroundings) -> WorkPiece:
    """Press a piece of work between two equal carbons in their holders.

    Parameters
    ----------
    work
        Along the current: as long as the carbons are apart.
    carbon
        One of the two, from holder to tip; not work.
    contact
        Between a carbon and the work.
    holder
        Of a carbon, at either end.
    surroundings
        Of all bars.

    Raises
    ------
    ValueError
        If the carbon is said to be work.

    Notes
    -----
    Where only the resistance of the carbons is known, make it the contact resistance of the jaws of `clamped`: half of
    its heat then goes into the work.
    """
    if carbon.is_work:
        msg = "is_work of the carbon must be False: the hottest point is sought in the work"
        raise ValueError(msg)
    return WorkPiece(
        left=holder,
        right=holder,
        bars=(carbon, work, carbon),
        joints=(contact, contact),
        surroundings=surroundings,
    )
