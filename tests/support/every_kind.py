"""One design of every kind of core and arrangement, with round sizes of our own, in the scenario of the example."""

from typing import Any

from fem.design.transformer import Design

SHELL: dict[str, Any] = {
    "type": "shell",
    "leg_width": "40 mm",
    "outer_leg_width": "21 mm",
    "yoke_height": "22 mm",
    "window_width": "20 mm",
    "window_height": "61 mm",
    "stack_depth": "50 mm",
    "joint": "butt",
    "joint_gap": "0.1 mm",
    "steel": "M530-50A",
}
TWO_LEG: dict[str, Any] = {
    **{k: v for k, v in SHELL.items() if k != "outer_leg_width"},
    "type": "two-leg",
    "window_width": "47 mm",
    "yoke_height": "41 mm",
}
WINDINGS: dict[str, Any] = {
    "arrangement": "side-by-side",
    "spacing": "3 mm",
    "leg_clearance": "1.5 mm",
    "yoke_clearance": "2 mm",
    "primary": {"turns": 230, "conductor": {"round": "1.2 mm"}, "height": "26 mm", "build": "15 mm"},
    "secondary": {"turns": 14, "conductor": {"strip": "3 mm x 2 mm"}, "height": "24 mm", "build": "13.5 mm"},
}


def _windings(primary: dict[str, Any] | None = None, secondary: dict[str, Any] | None = None, **rest: Any) -> Any:
    return {
        **WINDINGS,
        **rest,
        "primary": {**WINDINGS["primary"], **(primary or {})},
        "secondary": {**WINDINGS["secondary"], **(secondary or {})},
    }


_SHUNT = {"height": "8 mm", "total_gap": "1 mm"}
_CABLE = {"turns": 3, "conductor": {"cable": "25 mm2", "insulated": "9 mm"}, "height": "29 mm", "build": "18 mm"}
_NESTED = {"turns": 5, "conductor": {"round": "7.6 mm", "insulated": "8 mm"}, "height": "29 mm", "build": "17 mm"}
_BESIDE = {"primary": {"height": None, "build": "7 mm"}, "secondary": {"height": "50 mm", "build": "6 mm"}}
_PARTS: dict[str, tuple[dict[str, Any], dict[str, Any], dict[str, Any] | None]] = {
    "shell": (SHELL, _windings(), None),
    "unequal legs": ({**SHELL, "outer_leg_width": ["21 mm", "23 mm"]}, _windings(), None),
    "leg gap": ({**SHELL, "joint": "interleaved", "joint_gap": "0.03 mm", "leg_gap": "0.4 mm"}, _windings(), None),
    "concentric": (SHELL, _windings(arrangement="concentric", **_BESIDE), None),
    "interleaved": (
        {**SHELL, "joint": "welded"},
        _windings(
            {"height": "25 mm"}, {"height": "22 mm", "turns": 8}, arrangement="interleaved", sections=2, spacing="2 mm"
        ),
        None,
    ),
    "shunts": (
        SHELL,
        _windings({"height": "20 mm"}, {"height": "20 mm"}, spacing="14 mm"),
        _SHUNT,
    ),
    "two cores": ({**SHELL, "second": {"spacing": "60 mm", "primaries": "series"}}, _windings(), None),
    "few conductors": (SHELL, _windings(secondary=_CABLE), None),
    "nested": (SHELL, _windings(secondary=_NESTED), None),
    "two-leg": (TWO_LEG, _windings(), None),
    "two-leg, leg gap": ({**TWO_LEG, "leg_gap": "0.3 mm", "leg_gap_position": "20 mm"}, _windings(), None),
    "two-leg, each": (TWO_LEG, _windings(legs="each", **_BESIDE), None),
    "extra turns": (
        TWO_LEG,
        _windings(
            {"height": "24 mm", "extra": {"turns": 20, "conductor": {"round": "1.2 mm"}, "height": "5 mm"}},
            {"height": "20 mm"},
        ),
        None,
    ),
}
KINDS = tuple(_PARTS)


def design_of(kind: str) -> Design:
    """Return the design of a kind."""
    core, windings, shunt = _PARTS[kind]
    tables = {"mains": {"voltage": "230 V", "frequency": "50 Hz"}, "core": core, "windings": windings}
    return Design.model_validate({**tables, **({} if shunt is None else {"shunt": shunt})})
