"""Field, circuit and reports for salvaged E-I mains transformers rewound with a few turns of thick cable.

The names in `__all__` are what scripts may count on; all others may move. Each is loaded when it is first used, so that
importing this costs nothing. Values are SI floats, or texts with their unit.

What is there to build: a job file, or the same in Python.

>>> import fem
>>> design = fem.example_design()  # or fem.read_job("my.toml")
>>> design.mains.voltage, design.mains.frequency
(230.0, 50.0)
>>> cable = fem.Winding(turns=3, conductor=fem.Conductor(cable="70 mm2"))
>>> f"{1e6 * cable.copper_area:.0f} mm2"
'210 mm2'

What it does: sections with results, none of them silently missing. Costly parts are computed as they are wanted.

>>> found = fem.estimate(design, wanted={fem.Part.BANDS})
>>> f"{found.open_circuit.secondary_voltage_rms:.1f} V"
'2.9 V'
>>> found.switch_on
Unknown(reason='not asked for', gap=False)
>>> band = found.bands["idle.current_rms_A"]
>>> band.low < found.idle.current_rms < band.high
True

What if: any key of a job, in a copy. What does not fit says so.

>>> shorter = fem.estimate(design.vary("leads.length", "0.6 m"), wanted=set()).short_circuit
>>> shorter.secondary_current_rms > found.short_circuit.secondary_current_rms
True
>>> fem.estimate(design.vary("windings.secondary.turns", 9))  # doctest: +ELLIPSIS
Traceback (most recent call last):
fem.errors.DoesNotFit: windings.secondary: 9 turns, 2 in hand, of 11.3 mm cable reach ...

Many designs are rows of a sweep; a core without its turns is a card; the tool itself is held against print by `verify`.

>>> for row in fem.sweep(design, {"leads.length": ["0.6 m", "1.2 m"], "mains.voltage": [230.0]}):
...     print(row.status.value, row.point["leads.length"], 1.0 < row.results["saturation.peak_flux_density_T"] < 2.0)
done 0.6 m True
done 1.2 m True

Or point by point, each with the keys that it changes.

>>> [row.status.value for row in fem.sweep(design, [{"leads.length": 0.6}, {"windings.secondary.turns": 9}])]
['done', 'refused']

What to wind: all that fits of what the shop has, with the primary where it is, the best first.

>>> shop = design.vary("work_piece", None).vary("shop.conductors", [{"cable": "95 mm2", "insulated": "22 mm"}])
>>> best = fem.winding_options(shop, bands=False).options[0]
>>> best.candidate.fitted.fits, best.outcome.joined_current > 0
(True, True)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fem.design.job import read_job
    from fem.design.leads import Leads
    from fem.design.load import Load
    from fem.design.mains import Mains
    from fem.design.tables import JobError
    from fem.design.transformer import Design
    from fem.design.work_piece import WorkPieceDescription
    from fem.errors import DoesNotFit, NotConverged, OutOfRange
    from fem.estimation.card import card
    from fem.estimation.fields.kept import Kept
    from fem.estimation.one_design import estimate
    from fem.estimation.parts import Part
    from fem.estimation.result import Estimate
    from fem.examples import example_design
    from fem.options.winding import winding_options
    from fem.quantity import Band, Unknown
    from fem.report.figures.estimate import plot
    from fem.sweeps.designs import sweep
    from fem.verification.run import verify
    from geometries.cores.shell import ShellCore
    from geometries.cores.two_leg import TwoLegCore
    from geometries.windings.arrangement import Windings
    from geometries.windings.conductors import Conductor
    from geometries.windings.turns import Winding

__all__ = [
    "Band",
    "Conductor",
    "Design",
    "DoesNotFit",
    "Estimate",
    "JobError",
    "Kept",
    "Leads",
    "Load",
    "Mains",
    "NotConverged",
    "OutOfRange",
    "Part",
    "ShellCore",
    "TwoLegCore",
    "Unknown",
    "Winding",
    "Windings",
    "WorkPieceDescription",
    "card",
    "estimate",
    "example_design",
    "plot",
    "read_job",
    "sweep",
    "verify",
    "winding_options",
]

_HOMES = {
    "fem.design.job": ("read_job",),
    "fem.design.leads": ("Leads",),
    "fem.design.load": ("Load",),
    "fem.design.mains": ("Mains",),
    "fem.design.tables": ("JobError",),
    "fem.design.transformer": ("Design",),
    "fem.design.work_piece": ("WorkPieceDescription",),
    "fem.errors": ("DoesNotFit", "NotConverged", "OutOfRange"),
    "fem.estimation.card": ("card",),
    "fem.estimation.fields.kept": ("Kept",),
    "fem.estimation.one_design": ("estimate",),
    "fem.estimation.parts": ("Part",),
    "fem.estimation.result": ("Estimate",),
    "fem.examples": ("example_design",),
    "fem.options.winding": ("winding_options",),
    "fem.quantity": ("Band", "Unknown"),
    "fem.report.figures.estimate": ("plot",),
    "fem.sweeps.designs": ("sweep",),
    "fem.verification.run": ("verify",),
    "geometries.cores.shell": ("ShellCore",),
    "geometries.cores.two_leg": ("TwoLegCore",),
    "geometries.windings.arrangement": ("Windings",),
    "geometries.windings.conductors": ("Conductor",),
    "geometries.windings.turns": ("Winding",),
}
_HOME = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    """Return a public name from the module that has it; see PEP 562."""
    if name not in _HOME:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    found = globals()[name] = getattr(import_module(_HOME[name]), name)
    return found


def __dir__() -> list[str]:
    """Return the public names, and those of folders that are loaded."""
    return sorted({*globals(), *__all__})
