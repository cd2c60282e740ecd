"""The questions that make a first job file, in the order in which they come up at the bench."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any

from pydantic import TypeAdapter, ValidationError

from fem.assumptions import assumed, assumptions
from fem.design.leads import Leads
from fem.design.mains import Mains
from fem.design.work_piece import WorkPieceDescription, WorkSection
from geometries.cores.kinds import KINDS, USUAL
from geometries.cores.laminations import lamination
from geometries.described.faults import faults, one_of, shown, unusable
from geometries.described.quantities import (
    LENGTH,
    VOLTAGE,
    QuantityError,
    format_quantity,
    parse_quantity,
    told_quantity,
)
from geometries.described.tables import table_rows
from geometries.windings.arrangement import Windings
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding
from geometries.windings.wire import BY

Answers = dict[str, Any]
"""What is told by dotted key of the job file."""
UNKNOWN = ("", "?", "unknown", "don't know", "dont know", "no idea", "none", "no", "skip")
"""What means that nobody knows, or that it is not there."""
SIZES = ("core.leg_width", "core.outer_leg_width", "core.window_width", "core.window_height")
"""What a standard sheet fixes."""
CHOICES = {
    "core.type": {"(three|3)( legs?)?|e-?i|shell": "shell", "(two|2)( legs?)?|two[ -]leg": "two-leg"},
    "core.joint": {"weld(ed)?": "welded", "butt(ed)?": "butt", "interleaved?|alternate(ly)?": "interleaved"},
    "windings.arrangement": {
        "side( |-)?by( |-)?side|beside|side": "side-by-side",
        "round( the primary)?|around|over|concentric": "concentric",
        "interleaved?": "interleaved",
    },
}
"""Words by what they mean, for keys that take one of a few."""


class NotUnderstood(ValueError):
    """An answer that cannot be used, in one line."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question; a row of questions.csv, where the columns are explained."""

    keys: tuple[str, ...]
    asks: str
    how: str
    kind: str
    needed: bool
    usual: str
    typical: str
    when: tuple[str, ...]
    unit: str

    def put(self) -> str:
        """Return the question with the unit in which a bare number is taken."""
        named = self.unit and self.kind != "conductor" and self.asks.endswith("?")
        return f"{self.asks[:-1]}, in {self.unit}?" if named else self.asks

    def completed(self, text: str) -> str:
        """Return an answer whose bare numbers have the unit behind the last of them, or else that of the question."""
        text = " ".join(text.split())
        if self.kind == "coil":
            return (
                f"{text} {self.unit}" if re.search(r"[a-z,:;].*[0-9]$", text) else text
            )  # alone it may be of all turns or of one
        number = r"([0-9.]+(?: ?[0-9]+/[0-9]+)?|[0-9]+/[0-9]+) ?([^0-9.].*)?"
        numbers = [re.fullmatch(number, each.strip()) for each in BY.split(text)]
        if not (self.unit and all(numbers)) or (self.kind == "conductor" and len(numbers) == 1):
            return text
        told = [each for each in numbers if each]
        return " x ".join(each[0] if each[2] else f"{each[1]} {told[-1][2] or self.unit}" for each in told)

    def wanted(self, answers: Answers) -> bool:
        """Return whether it is asked, after the answers so far."""
        return all((key.lstrip("!") in answers) != key.startswith("!") for key in self.when if key != "shell") and (
            "shell" not in self.when or answers.get("core.type", USUAL) == USUAL
        )

    def offered(self, answers: Answers) -> str:
        """Return what stands in brackets: what Enter does."""
        kept = [answers[key] for key in self.keys if key in answers]
        if kept and (self.kind != "outside" or "insulated" in kept[0]):
            return f"as before, {', '.join(map(as_toml, kept))}"
        if usual := self._usual(answers):
            return usual
        typical = self.taken(answers)
        return f"unknown: {typical}" if typical else "" if self.needed else "none"

    def taken(self, answers: Answers) -> str:
        """Return what is taken where nobody knows, with its band; empty where nothing is."""
        if self.typical == "outside":
            conductor = Conductor(**answers[self.keys[0]])
            if conductor.cable is None:
                return f"{format_quantity(conductor.insulated_height, 'm')} with enamel"
            return _band("cable over its conductor", lambda ratio: ratio * conductor.bare_width)
        if self.typical == "half":
            half = float(told_quantity(answers["core.leg_width"], LENGTH)) / 2
            return f"half the centre leg, {_band('leg or yoke not told', lambda more: half + more)}"
        name = self.typical.format(joint=answers.get("core.joint", ""))
        return _band(name) if name in assumptions() else name

    def answer(self, text: str, answers: Answers) -> Answers:
        """Return all answers with this one; the same where nobody knows, or it stays as it was.

        Raises
        ------
        NotUnderstood
            With the fault in one line.
        """
        text = self.completed(text)
        if reason := unusable(text):
            raise NotUnderstood(reason)
        if text.lower() in UNKNOWN:
            kept = any(key in answers for key in self.keys)
            text = "" if kept else self._usual(answers)
            if not text and not kept and self.needed:
                msg = f"this is needed: {self.how}"
                raise NotUnderstood(msg)
            if not text:
                return answers
        found = answers | _READERS[self.kind](self.keys[0], text, answers)
        return {key: value for key, value in found.items() if value != ""}

    def _usual(self, answers: Answers) -> str:
        if self.usual != "frequency":
            return self.usual
        return "60 Hz" if told_quantity(answers["mains.voltage"], VOLTAGE) < 150 else "50 Hz"


@cache
def questions() -> tuple[Question, ...]:
    """Return all questions in their order; which of them are asked depends on the answers."""
    return tuple(
        Question(
            keys=tuple(row["keys"].split()),
            needed=row["needed"] == "yes",
            when=tuple(row["when"].split()),
            **{name: row[name] for name in ("asks", "how", "kind", "usual", "typical", "unit")},
        )
        for row in table_rows(__package__, "questions.csv")
    )


def as_toml(value: Any) -> str:
    """Write a text, a whole number or a table of texts in a line of TOML."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{name} = {as_toml(inner)}' for name, inner in value.items())} }}"
    if isinstance(value, int):
        return str(value)
    return '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'


def _band(name: str, of: Callable[[float], float] = lambda value: value) -> str:
    row = assumed(name)
    unit = "" if row.unit == "1" and name == "stacking factor" else "m"
    low, typical, high = (format_quantity(of(value), unit, 3) for value in (row.low, row.typical, row.high))
    return f"{typical} ({low} to {high})"


def _validated(key: str, value: Any, answers: Answers) -> Any:
    """Return a value as the job file's own key takes it."""
    section, _, name = key.rpartition(".")
    models: dict[str, Any] = {
        "mains": Mains,
        "core": KINDS[answers.get("core.type", USUAL)],
        "windings": Windings,
        "windings.primary": Winding,
        "windings.secondary": Winding,
        "leads": Leads,
        "work_piece": WorkPieceDescription,
    }
    field = models[section].model_fields[name]
    return _checked(Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation, value)


def _checked(kind: Any, value: Any) -> Any:
    try:
        return TypeAdapter(kind).validate_python(value, context={"job_file": True})
    except ValidationError as error:
        raise NotUnderstood(faults(error)[0].message) from None


def _quantity(key: str, text: str, answers: Answers) -> Answers:
    found = _validated(key, text, answers)
    return {key: found if isinstance(found, str) else text}


def _choice(key: str, text: str, _: Answers) -> Answers:
    words = CHOICES[key]
    for word, meant in words.items():
        if re.fullmatch(word, text, re.IGNORECASE):
            return {key: meant}
    msg = f"expected {one_of(words.values())}; got {shown(text)}"
    raise NotUnderstood(msg)


def _leg(key: str, text: str, answers: Answers) -> Answers:
    if not re.match("EI", text, re.IGNORECASE):
        return {**_quantity(key, text, answers), "core.lamination": ""}
    if answers.get("core.type", USUAL) != USUAL:
        msg = f"{shown(text)} has three legs; tell the leg's width of a core with two"
        raise NotUnderstood(msg)
    try:
        return {"core.lamination": lamination(text).name, **dict.fromkeys(SIZES, "")}
    except ValueError as error:
        raise NotUnderstood(str(error)) from None


def _window(_: str, text: str, answers: Answers) -> Answers:
    if len(parts := [part.strip() for part in BY.split(text)]) != 2:
        msg = f'expected width x height, such as "30 mm x 90 mm"; got {shown(text)}'
        raise NotUnderstood(msg)
    width, height = parts
    return {
        **_quantity("core.window_width", width, answers),
        **_quantity("core.window_height", height, answers),
    }


def _turns(key: str, text: str, answers: Answers) -> Answers:
    count = re.fullmatch(r"([0-9]{1,9})(?: ?turns?)?", text)
    return {key: _validated(key, int(count[1]) if count else text, answers)}


def _search_coil(key: str, text: str, answers: Answers) -> Answers:
    turns, volts = re.fullmatch(r"(?:([0-9]{1,4}) ?(?:turns?|t)?[ ,;:]+)?(.*)", text, re.IGNORECASE).groups()  # type: ignore[union-attr]
    try:
        per_turn = parse_quantity(volts, VOLTAGE, unit_needed=True) / int(turns or 1)
    except (QuantityError, ZeroDivisionError):
        per_turn = 0.0
    if not per_turn > 0:
        msg = f'expected volts per turn, "0.98 V", or turns and their volts, "10 turns, 9.8 V"; got {shown(text)}'
        raise NotUnderstood(msg)
    return {key: _validated(key, round(told_quantity(answers["mains.voltage"], VOLTAGE) / per_turn), answers)}


def _conductor(key: str, text: str, _: Answers) -> Answers:
    """Read "70 mm2" and gauges as cable, lengths as wire, two lengths as strip; a primary's is wire."""
    try:
        parse_quantity(text, LENGTH, unit_needed=True)
        kind = "round"
    except QuantityError:
        kind = "strip" if BY.search(text) else "round" if "primary" in key else "cable"
    _checked(Conductor, {kind: text})
    return {key: {kind: text}}


def _outside(key: str, text: str, answers: Answers) -> Answers:
    told = {**answers[key], "insulated": text}
    _checked(Conductor, told)
    return {key: told}


def _section(key: str, text: str, _: Answers) -> Answers:
    told = {"strip" if BY.search(text) else "round": text}
    _checked(WorkSection, told)
    return {key: told}


_READERS: dict[str, Callable[[str, str, Answers], Answers]] = {
    "quantity": _quantity,
    "choice": _choice,
    "leg": _leg,
    "window": _window,
    "turns": _turns,
    "coil": _search_coil,
    "wire": _conductor,
    "conductor": _conductor,
    "outside": _outside,
    "section": _section,
}
"""How answers are read, by `kind`; of a key that is to go, the value is an empty text."""
