"""What always holds at this work, each with its number and where that number stands."""

from fem.trust.caution import Caution, Danger

GENERAL = (
    (
        "mains",
        Danger.KILLS,
        "The primary is live and can kill. Unplug before touching anything, fit a switch within reach and a "
        "lid over every mains joint; before opening salvaged apparatus discharge and short its capacitors and "
        "treat them as live until that is done (WAC 296-24-975), and make sure nothing can switch on "
        "meanwhile (29 CFR 1910.147).",
    ),
    (
        "earthing",
        Danger.KILLS,
        "Connect the core and one point of the secondary to the mains earth. A winding put on by hand counts "
        "as simple separation only, so exposed parts go to the primary's protective conductor (IEC "
        "60364-4-41, 411.7): treat the secondary as if it could turn live.",
    ),
    (
        "insulation",
        Danger.KILLS,
        "Salvaged insulation is of unknown age and class: class A, 105 degC (IEC 60085), is the most to count "
        "on. Have it tested for insulation resistance and withstand voltage before the first use, and again "
        "after overheating.",
    ),
    (
        "burns",
        Danger.BURNS,
        "Bare metal at some 65 degC burns within a second, at 51 degC within a minute, at 43 degC over hours "
        "(ISO 13732-1, figures from memory). Jaws, lugs and work are far above that long before they glow at "
        "525 degC.",
    ),
    (
        "arcs and eyes",
        Danger.BURNS,
        "Parting a joint under current throws molten metal. Switch the primary, never the secondary. Protect "
        "eyes and face: a shield against sparks, filter shade 3 for brazing, 10 for an arc of 160 to 250 A, "
        "11 up to 550 A, 14 for carbon arcs (29 CFR 1910.133); gloves, cotton or leather.",
    ),
    (
        "hearing",
        Danger.BURNS,
        "Expelled metal and grinding are loud: protect hearing from 85 dBA over a working day (NIOSH 98-126).",
    ),
    (
        "fumes",
        Danger.BURNS,
        "Strip zinc, cadmium and paint first; zinc boils at 907 degC and 5 mg/m3 of its oxide is the limit "
        "(OSHA). Fluxes and burnt insulation are poisonous too. Below 284 m3 of room for each worker "
        "ventilate by fan (29 CFR 1910.252(c)).",
    ),
    (
        "fire",
        Danger.BURNS,
        "Clear away what burns for 10.7 m round about (29 CFR 1910.252(a)), keep an extinguisher at hand, "
        "watch for half an hour after the last burst (the same), never leave it on.",
    ),
    (
        "who decides",
        Danger.DISTURBS,
        "These are computed estimates. Local electrical code and licensed practice decide whether and how "
        "this may be built and connected.",
    ),
)
"""Subject, danger and sentence."""


def always() -> tuple[Caution, ...]:
    """Return what is said with every estimate."""
    return tuple(Caution(about=about, text=text, danger=danger, general=True) for about, danger, text in GENERAL)
