"""What glows, spatters and fumes: eyes by process and voltage, and what is in the solder and the work."""

from __future__ import annotations

from collections.abc import Iterator

from fem.constants import ZERO_CELSIUS
from fem.design.transformer import Design
from fem.digits import brief
from fem.trust.caution import Caution, Danger

ARC_VOLTAGE = 20.0
"""Between lead ends, r.m.s. [V], from which an arc may stand: the fall at its ends alone is 12 to 13 V between copper,
iron or silver, and a column comes on top (R. Holm, Electric Contacts, from memory)."""
BRAZING = 450.0 + ZERO_CELSIUS
"""Solder that flows above is hard, and the work brazing [K]: AWS Brazing Handbook, 2007, as reprinted."""
ARC_SHADES = ((60.0, 7), (160.0, 8), (250.0, 10), (550.0, 11))
"""Up to which current of an arc [A] which filter shade is the least: 29 CFR 1910.133, shielded metal arc."""
CARBON_ARC = 14
"""Shade for carbon arcs, and for what that table does not go up to: the same."""


def eyes(design: Design, voltage: float, current: float) -> Caution:
    """Tell what eyes need.

    Parameters
    ----------
    design
        What the work piece is, and whether it lies between carbons.
    voltage
        Of the lead ends with nothing connected, r.m.s. [V].
    current
        With them joined, r.m.s. [A].
    """
    work = design.work_piece
    if voltage >= ARC_VOLTAGE:
        shade = next((least for most, least in ARC_SHADES if current <= most), CARBON_ARC)
        text = (
            f"Face shield, filter shade {shade} at least: {brief(voltage)} V hold an arc. Between the lead ends it can "
            f"take {brief(current)} A. Switch the primary, never the secondary."
        )
    else:
        process, shades = "brazing", "3 or 4"
        if work is not None and work.joint is not None and (work.joint.filler_melts_at or BRAZING) < BRAZING:
            process, shades = "soldering", "2"
        elif work is not None and work.carbons is not None:
            process, shades = "glowing carbons and brazing", "4"
        text = (
            f"Face shield, filter shade {shades} for {process}. {brief(voltage)} V hold no arc, which takes some "
            f"{ARC_VOLTAGE:g} V, but a joint parted under current throws molten metal. Switch the primary only."
        )
    return Caution(about="eyes", text=text, danger=Danger.BURNS, source="29 CFR 1910.133; arcs from memory")


def solder_fumes(design: Design) -> Iterator[Caution]:
    """Warn of cadmium where something is soldered, and of zinc and beryllium in what is heated."""
    work = design.work_piece
    if work is None:
        return
    if work.joint is not None:
        text = (
            "No silver solder of unknown make: its cadmium kills. Old ones hold up to a quarter of it, it fumes from "
            "321 degC on, and its limit in air is 5 ug/m3. Draw off the fume of any flux."
        )
        yield Caution(about="solder fumes", text=text, danger=Danger.KILLS, source="29 CFR 1910.1027; HSE EIS31")
    if work.metal in ("brass", "bronze"):
        of = "zinc, which boils at 907 degC" if work.metal == "brass" else "beryllium, which maims lungs"
        text = f"The work's {work.metal} may hold {of}. Do not overheat it, draw off the fume."
        yield Caution(about="work fumes", text=text, danger=Danger.BURNS, source="29 CFR 1910.252(c)")
