"""What always holds at this work, each with its number and where that number stands."""

from fem.trust.caution import PRACTICE, Caution, Danger

_GENERAL = (
    (
        "mains",
        Danger.KILLS,
        "The primary is live and kills. A switch within reach, a lid over every mains joint; unplug before touching, "
        "and see that nobody can plug it in meanwhile.",
        "lockout: 29 CFR 1910.147",
    ),
    (
        "capacitors",
        Danger.KILLS,
        "Before opening salvaged apparatus discharge its capacitors through a resistor, measure that they are dead, "
        "and leave them shorted.",
        "short-circuit and treat as live until then: WAC 296-24-975",
    ),
    (
        "earthing",
        Danger.KILLS,
        "Connect the core and one point of the secondary, and only one, to the mains earth: a winding put on by hand "
        "is simple separation only and could turn live.",
        "IEC 60364-4-41, 411.7",
    ),
    (
        "insulation",
        Danger.KILLS,
        "Salvaged insulation is of unknown age: before first use and after overheating, 500 V d.c. from primary to "
        "core and secondary must find at least 1 Mohm; count on class A, 105 degC.",
        "IEC 60364-6, as BS 7671, table 64, has it; IEC 60085",
    ),
    (
        "residual current",
        Danger.KILLS,
        "Feed it through an RCD of 30 mA. That watches the primary against earth: neither a hand from line to "
        "neutral, nor an overload, nor anything on the secondary side.",
        "IEC 61008-1, from memory",
    ),
    (
        "burns",
        Danger.BURNS,
        "Bare metal burns at some 65 degC within a second, at 51 degC within a minute, long before it glows at 525 "
        "degC. Rings, watches and chains off: across the lead ends they glow.",
        "ISO 13732-1, from memory; 29 CFR 1910.333(c)(8)",
    ),
    (
        "fumes",
        Danger.BURNS,
        "Strip zinc, cadmium and paint; limits in air are 5 mg/m3 of zinc oxide and 0.2 ug/m3 of beryllium. Flux and "
        "burnt insulation poison too: a fan in rooms below 284 m3 a worker.",
        "29 CFR 1910.1000, .1024, .252(c)",
    ),
    (
        "fire",
        Danger.BURNS,
        "Clear away what burns for 10.7 m round about, an extinguisher at hand; watch for half an hour after the last "
        "burst, never leave it on alone.",
        "29 CFR 1910.252(a)",
    ),
    (
        "hearing",
        Danger.BURNS,
        "Expelled metal and grinding are loud: protect hearing from 85 dBA over a working day.",
        "NIOSH 98-126",
    ),
    (
        "who decides",
        Danger.DISTURBS,
        "These are computed estimates. Local electrical code and licensed practice decide whether and how this may be "
        "built and connected.",
        PRACTICE,
    ),
)
"""Subject, danger, sentence and source."""


def always() -> tuple[Caution, ...]:
    """Return what is said with every estimate."""
    return tuple(
        Caution(about=about, text=text, danger=danger, source=source, general=True)
        for about, danger, text, source in _GENERAL
    )
