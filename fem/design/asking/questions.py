"""The questions that make a first job file, in the order in which they come up at the bench."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import TypeAdapter, ValidationError

from fem.assumptions import assumed
from fem.design.leads import Leads
from fem.design.mains import Mains
from fem.design.work_piece import WorkPieceDescription, WorkSection
from geometries.cores.kinds import KINDS, USUAL
from geometries.cores.laminations import lamination
from geometries.described.faults import faults, one_of, shown, unusable
from geometries.described.quantities import (
    LENGTH,
    VOLTAGE,
    Dimension,
    QuantityError,
    format_quantity,
    parse_quantity,
    told_quantity,
)
from geometries.windings.arrangement import Windings
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding
from geometries.windings.wire import BY

Answers = dict[str, str]
"""What stands in the job file by dotted key, as TOML."""
UNKNOWN = ("", "?", "unknown", "don't know", "dont know", "no idea", "none", "no", "skip")
"""What means that nobody knows, or that it is not there."""
_JOB = {"job_file": True}


class NotUnderstood(ValueError):
    """An answer that cannot be used, in one line."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """One question.

    Parameters
    ----------
    keys
        Dotted keys of the job file that it answers.
    asks
        What is asked, in plain words.
    how
        How to measure or find it, in a line; becomes the comment in the file.
    read
        Turns an answer into keys' values, empty where a key is to go; told all answers so far, raises NotUnderstood.
    usual
        What Enter takes, and writes.
    typical
        What is offered where nobody knows, with its band; it is not written but left to be taken as usual.
    needed
        Whether the job cannot do without.
    wanted
        Whether it is asked, after the answers so far.
    adds
        Key that it adds within a table that another question answered; empty for all others.
    """

    keys: tuple[str, ...]
    asks: str
    how: str
    read: Callable[[str, Answers], Answers]
    usual: Callable[[Answers], str] = lambda _: ""
    typical: Callable[[Answers], str] = lambda _: ""
    needed: bool = True
    wanted: Callable[[Answers], bool] = lambda _: True
    adds: str = ""

    def offered(self, answers: Answers) -> str:
        """Return what stands in brackets: what Enter does."""
        if kept := ", ".join(answers[key] for key in self.keys if key in answers and self.adds in answers[key]):
            return f"as before, {kept}"
        if usual := self.usual(answers):
            return usual
        if typical := self.typical(answers):
            return f"unknown: {typical}"
        return "" if self.needed else "none"

    def answer(self, text: str, answers: Answers) -> Answers:
        """Return all answers with this one; the same where nobody knows, or it stays as it was.

        Raises
        ------
        NotUnderstood
            With the fault in one line.
        """
        text = " ".join(text.split())
        if reason := unusable(text):
            raise NotUnderstood(reason)
        if text.lower() in UNKNOWN:
            kept = {key: answers[key] for key in self.keys if key in answers}
            text = "" if kept else self.usual(answers)
            if not text and not kept and self.needed:
                msg = f"this is needed: {self.how}"
                raise NotUnderstood(msg)
            if not text:
                return answers
        return {key: value for key, value in (answers | self.read(text, answers)).items() if value}


def validated(key: str, value: Any, answers: Answers) -> Any:
    """Return a value as the job file's own key takes it.

    Raises
    ------
    NotUnderstood
        As the job file would be refused.
    """
    *parents, name = key.split(".")
    models: dict[str, Any] = {
        "mains": Mains,
        "core": KINDS[json.loads(answers.get("core.type", f'"{USUAL}"'))],
        "windings": Windings,
        "windings.primary": Winding,
        "windings.secondary": Winding,
        "leads": Leads,
        "work_piece": WorkPieceDescription,
    }
    field = models[".".join(parents)].model_fields[name]
    annotation: Any = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
    return _checked(TypeAdapter(annotation), value)


def _checked(adapter: TypeAdapter[Any], value: Any) -> Any:
    try:
        return adapter.validate_python(value, context=_JOB)
    except ValidationError as error:
        raise NotUnderstood(faults(error)[0].message) from None


def text_of(value: Any) -> str:
    """Write a text as TOML."""
    return json.dumps(value, ensure_ascii=False)


def _quantity(key: str) -> Callable[[str, Answers], Answers]:
    def read(text: str, answers: Answers) -> Answers:
        validated(key, text, answers)
        return {key: text_of(text)}

    return read


def _choice(key: str, words: dict[str, str]) -> Callable[[str, Answers], Answers]:
    def read(text: str, _: Answers) -> Answers:
        value = next((meant for word, meant in words.items() if re.fullmatch(word, text, re.IGNORECASE)), text.lower())
        if value not in words.values():
            msg = f"expected {one_of(words.values())}; got {shown(text)}"
            raise NotUnderstood(msg)
        return {key: text_of(value)}

    return read


SIZES = ("core.leg_width", "core.outer_leg_width", "core.window_width", "core.window_height")


def _number(key: str, answers: Answers, dimension: Dimension) -> float:
    return float(told_quantity(json.loads(answers[key]), dimension))


def _leg(text: str, answers: Answers) -> Answers:
    if not re.match("EI", text, re.IGNORECASE):
        return _quantity("core.leg_width")(text, answers) | {"core.lamination": ""}
    if not is_shell(answers):
        msg = f"{shown(text)} is of three legs; tell the leg's width of a core with two"
        raise NotUnderstood(msg)
    try:
        return {"core.lamination": text_of(lamination(text).name)} | dict.fromkeys(SIZES, "")
    except ValueError as error:
        raise NotUnderstood(str(error)) from None


def _window(text: str, answers: Answers) -> Answers:
    parts = [part.strip() for part in BY.split(text)]
    if len(parts) != 2:
        msg = f'expected width x height, such as "26 mm x 76 mm"; got {shown(text)}'
        raise NotUnderstood(msg)
    if re.fullmatch(r"[0-9.]+", parts[0]) and (unit := re.sub(r"^[0-9./ -]+", "", parts[1])):
        parts[0] = f"{parts[0]} {unit}"
    found: Answers = {}
    for key, part in zip(("core.window_width", "core.window_height"), parts, strict=True):
        found |= _quantity(key)(part, answers)
    return found


def _turns(key: str) -> Callable[[str, Answers], Answers]:
    def read(text: str, answers: Answers) -> Answers:
        count = re.fullmatch(r"([0-9]{1,9})(?: ?turns?)?", text)
        value: Any = int(count[1]) if count else text
        return {key: str(validated(key, value, answers))}

    return read


def _search_coil(text: str, answers: Answers) -> Answers:
    found = re.fullmatch(r"(?:([0-9]{1,4}) ?(?:turns?|t)?[ ,;:]+)?(.*)", text, re.IGNORECASE)
    assert found is not None
    try:
        volts = parse_quantity(found[2], VOLTAGE, unit_needed=True)
    except QuantityError:
        volts = 0.0
    if not volts > 0:
        msg = (
            f'expected volts per turn, such as "0.98 V", or turns and their volts, "10 turns, 9.8 V"; got {shown(text)}'
        )
        raise NotUnderstood(msg)
    turns = _number("mains.voltage", answers, VOLTAGE) * int(found[1] or 1) / volts
    return _turns("windings.primary.turns")(str(round(turns)), answers)


def conductor_of(text: str) -> str:
    """Return which kind of conductor a text means: "strip", "cable" or "round"."""
    if BY.search(text):
        return "strip"
    try:
        parse_quantity(text, LENGTH, unit_needed=True)
    except QuantityError:
        return "cable"
    return "round"


def _conductor(key: str, kind: str | None = None) -> Callable[[str, Answers], Answers]:
    def read(text: str, answers: Answers) -> Answers:
        told = kind or conductor_of(text)
        _checked(TypeAdapter(Conductor), {told: text})
        return {key: f"{{ {told} = {text_of(text)} }}"}

    return read


def _outside(text: str, answers: Answers) -> Answers:
    before = answers["windings.secondary.conductor"].removesuffix(" }")
    kind, _, size = before.removeprefix("{ ").partition(" = ")
    _checked(TypeAdapter(Conductor), {kind: json.loads(size.partition(", insulated")[0]), "insulated": text})
    return {"windings.secondary.conductor": f"{before.partition(', insulated')[0]}, insulated = {text_of(text)} }}"}


def _typical_outside(answers: Answers) -> str:
    kind, _, size = answers["windings.secondary.conductor"].strip("{ }").partition(" = ")
    conductor = Conductor(**{kind: json.loads(size.partition(", insulated")[0])})
    if kind != "cable":
        return f"{format_quantity(conductor.insulated_height, 'm')} with enamel"
    row = assumed("cable over its conductor")
    low, middle, high = (format_quantity(conductor.bare_width * k, "m", 3) for k in (row.low, row.typical, row.high))
    return f"{middle}, {low} to {high} is found"


def _section(text: str, answers: Answers) -> Answers:
    kind = "strip" if BY.search(text) else "round"
    _checked(TypeAdapter(WorkSection), {kind: text})
    return {"work_piece.section": f"{{ {kind} = {text_of(text)} }}"}


def _metal(text: str, answers: Answers) -> Answers:
    return {"work_piece.metal": text_of(validated("work_piece.metal", text, answers))}


def _breaker(text: str, answers: Answers) -> Answers:
    return {"mains.breaker": text_of(validated("mains.breaker", text, answers))}


def is_shell(answers: Answers) -> bool:
    """Return whether the core has three legs."""
    return answers.get("core.type", '"shell"') == '"shell"'


def _has_work(answers: Answers) -> bool:
    return "work_piece.metal" in answers


def _half(answers: Answers) -> str:
    row = assumed("leg or yoke not told")
    half = _number("core.leg_width", answers, LENGTH) / 2
    low, high = (format_quantity(half + off, "m") for off in row.band)
    return f"{format_quantity(half, 'm')}, half the centre leg, {low} to {high} is found"


def _gap(answers: Answers) -> str:
    row = assumed(f"{json.loads(answers['core.joint'])} joint")
    low, middle, high = (format_quantity(value, "m") for value in (row.low, row.typical, row.high))
    return f"{middle}, {low} to {high} is found"


def _spacing(_: Answers) -> str:
    row = assumed("spacing of leads not told")
    low, middle, high = (format_quantity(value, "m") for value in (row.low, row.typical, row.high))
    return f"{middle}, {low} to {high} is found"


def _stacking(_: Answers) -> str:
    row = assumed("stacking factor")
    return f"{row.typical:g}, {row.low:g} to {row.high:g} is found"


def _usual_frequency(answers: Answers) -> str:
    return "60 Hz" if _number("mains.voltage", answers, VOLTAGE) < 150 else "50 Hz"


QUESTIONS = (
    Question(
        keys=("mains.voltage",),
        asks="Mains voltage at the socket?",
        how="with a meter at the socket, nothing plugged in",
        read=_quantity("mains.voltage"),
        usual=lambda _: "230 V",
    ),
    Question(
        keys=("mains.frequency",),
        asks="Mains frequency?",
        how="on any nameplate for this mains",
        read=_quantity("mains.frequency"),
        usual=_usual_frequency,
    ),
    Question(
        keys=("mains.breaker",),
        asks="Breaker or fuse of that socket?",
        how='printed on it: "B16", "C16", "20 A", "13 A fuse"',
        read=_breaker,
        needed=False,
    ),
    Question(
        keys=("core.type",),
        asks="How many legs has the core: three (E-I, windings on the middle one) or two round one window?",
        how="legs of iron: three are a shell type",
        read=_choice("core.type", {"(three|3)( legs?)?|e-?i|shell": "shell", "(two|2)( legs?)?|two leg": "two-leg"}),
        usual=lambda _: "three",
    ),
    Question(
        keys=("core.leg_width", "core.lamination"),
        asks="Width of the leg that carries the windings (of three the middle one)?",
        how='with callipers across the leg, in the plane of the sheets; or a standard sheet\'s name, "EI 120"',
        read=_leg,
    ),
    Question(
        keys=("core.outer_leg_width",),
        asks="Width of the outer legs?",
        how="with callipers, in the plane of the sheets",
        read=_quantity("core.outer_leg_width"),
        typical=_half,
        needed=False,
        wanted=lambda answers: is_shell(answers) and "core.leg_width" in answers,
    ),
    Question(
        keys=("core.window_width", "core.window_height"),
        asks="Size of one window, width x height along the leg?",
        how='with callipers between the legs, and between the yokes: "26 mm x 76 mm"',
        read=_window,
        wanted=lambda answers: "core.lamination" not in answers,
    ),
    Question(
        keys=("core.stack_depth",),
        asks="Thickness of the whole stack of sheets?",
        how="with callipers over all sheets, pressed together",
        read=_quantity("core.stack_depth"),
    ),
    Question(
        keys=("core.stacking_factor",),
        asks="Share of the stack that is iron?",
        how="count the sheets and measure one: sheets x thickness over the stack",
        read=_quantity("core.stacking_factor"),
        typical=_stacking,
        needed=False,
    ),
    Question(
        keys=("core.joint",),
        asks="How do the sheets meet: welded, butt or interleaved?",
        how="a bead of weld across the sheets; a straight seam; or sheets laid alternately, end over end",
        read=_choice(
            "core.joint", {"weld(ed)?": "welded", "butt(ed)?": "butt", "interleaved?|alternate(ly)?": "interleaved"}
        ),
        typical=lambda _: "welded, the others kept in doubt",
        needed=False,
    ),
    Question(
        keys=("core.joint_gap",),
        asks="Gap in each joint?",
        how="with feeler gauges, or the thickness of the paper in it",
        read=_quantity("core.joint_gap"),
        typical=_gap,
        needed=False,
        wanted=lambda answers: "core.joint" in answers,
    ),
    Question(
        keys=("windings.primary.turns",),
        asks="Turns of the primary, the winding that stays?",
        how="count the layers and the turns in one, or wind a search coil",
        read=_turns("windings.primary.turns"),
        typical=lambda _: "a search coil tells, asked next",
        needed=False,
    ),
    Question(
        keys=("windings.primary.turns",),
        asks="Volts of a search coil, with the primary on the mains? Mains kills: connect it unplugged.",
        how='wind ten turns of thin wire on the leg and measure: "10 turns, 9.8 V"; or volts per turn, "0.98 V"',
        read=_search_coil,
        wanted=lambda answers: "windings.primary.turns" not in answers,
    ),
    Question(
        keys=("windings.primary.conductor",),
        asks="Wire of the primary, without its enamel?",
        how='scrape the end bare and measure: "1.6 mm", "14 AWG"',
        read=_conductor("windings.primary.conductor", "round"),
        typical=lambda _: "from its resistance, which is asked next",
        needed=False,
    ),
    Question(
        keys=("windings.primary.resistance",),
        asks="Resistance of the primary, cold?",
        how="with an ohmmeter at its two ends, the probes' own reading taken off",
        read=_quantity("windings.primary.resistance"),
        wanted=lambda answers: "windings.primary.conductor" not in answers,
    ),
    Question(
        keys=("windings.arrangement",),
        asks="Where does the new winding go: side-by-side along the leg, round the primary, or interleaved with it?",
        how="look where the window has room",
        read=_choice(
            "windings.arrangement",
            {
                "side( |-)?by( |-)?side|beside|side": "side-by-side",
                "round( the primary)?|around|over": "concentric",
                "interleaved?": "interleaved",
            },
        ),
        usual=lambda _: "side-by-side",
    ),
    Question(
        keys=("windings.secondary.turns",),
        asks="Turns wanted of the new winding?",
        how="how often the cable goes through both windows and back: each gives the volts per turn",
        read=_turns("windings.secondary.turns"),
    ),
    Question(
        keys=("windings.secondary.conductor",),
        asks="Cable, strip or wire for it?",
        how='printed on the cable: "70 mm2", "2/0 AWG"; a strip is "12 mm x 3 mm", a wire "6 mm"',
        read=_conductor("windings.secondary.conductor"),
    ),
    Question(
        keys=("windings.secondary.conductor",),
        asks="Outside diameter over its insulation (of a strip: width x thickness)?",
        how="with callipers over the insulation",
        read=_outside,
        adds="insulated",
        typical=_typical_outside,
        needed=False,
        wanted=lambda answers: "windings.secondary.conductor" in answers,
    ),
    Question(
        keys=("leads.length",),
        asks="Length of cable from the winding to the work and back?",
        how='with a tape, go plus return, of the same cable: "1.2 m"; "0 m" if it ends at the core',
        read=_quantity("leads.length"),
    ),
    Question(
        keys=("leads.spacing",),
        asks="How far apart lie go and return?",
        how="centre to centre, the mean along the cable",
        read=_quantity("leads.spacing"),
        typical=_spacing,
        needed=False,
    ),
    Question(
        keys=("work_piece.metal",),
        asks="What shall it heat?",
        how='a metal: "carbon steel", "copper", "brass" ...; rewound list work-pieces names all',
        read=_metal,
        needed=False,
    ),
    Question(
        keys=("work_piece.section",),
        asks="Its section across the current?",
        how='with callipers: a strip "27 mm x 0.9 mm", a rod "8 mm"',
        read=_section,
        wanted=_has_work,
    ),
    Question(
        keys=("work_piece.length",),
        asks="Its length between the jaws?",
        how="with a rule, what is free between both jaws",
        read=_quantity("work_piece.length"),
        wanted=_has_work,
    ),
    Question(
        keys=("work_piece.target_temperature",),
        asks="How hot shall it get?",
        how='"700 degC" lets most silver solders flow',
        read=_quantity("work_piece.target_temperature"),
        needed=False,
        wanted=_has_work,
    ),
    Question(
        keys=("work_piece.duration",),
        asks="How long may one burst last?",
        how="the longest that you would hold it",
        read=_quantity("work_piece.duration"),
        usual=lambda _: "10 s",
        wanted=_has_work,
    ),
)
"""In their order; which of them are asked depends on the answers."""
