"""A job file made of answers, with a comment beside every key; what nobody knows stands there as a comment."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from fem.design.asking.questions import SIZES, Answers, Question, as_toml, questions
from fem.design.job import JOB_FILE, misfits
from fem.design.transformer import Design
from geometries.described.faults import Fault, faults

HEAD = """\
# A job file, written by rewound start. Quantities are text with a unit: "40 mm", "1 1/2 in", "2/0 AWG", "0.15 mohm".
# Lines that begin with # are comments: take the # away and tell what is known. All there is to tell: rewound example

title = "Rewound transformer"
"""
COLUMN = 36
SECTIONS = ("mains", "core", "windings", "windings.primary", "windings.secondary", "leads", "work_piece")


def written(answers: Answers) -> str:
    """Return the job file's text; what waits for an answer is marked."""
    return HEAD + "\n".join(_lines(answers)) + "\n"


def waiting(answers: Answers) -> list[str]:
    """Return the keys that the job cannot do without and that are not answered yet."""
    return [
        question.keys[0]
        for question in questions()
        if question.needed and question.wanted(answers) and not any(key in answers for key in question.keys)
    ]


def _lines(answers: Answers) -> Iterator[str]:
    told: set[str] = set()
    for section in SECTIONS:
        used = any(key.rpartition(".")[0] == section for key in (*answers, *waiting(answers)))
        yield f"\n{'' if used else '# '}[{section}]"
        for question in questions():
            for key in question.keys:
                elsewhere = key == "core.lamination" or (key in SIZES and "core.lamination" in answers)
                if key.rpartition(".")[0] == section and key not in told and (key in answers or not elsewhere):
                    told.add(key)
                    yield _line(key, question, answers)


def _line(key: str, question: Question, answers: Answers) -> str:
    name = key.rpartition(".")[2]
    if key in answers:
        return f"{name} = {as_toml(answers[key])}".ljust(COLUMN - 1) + f" # {question.how}"
    typical = question.taken(answers) if question.wanted(answers) else ""
    note = "NOT ANSWERED YET: " if key in waiting(answers) else f"taken: {typical}; else " if typical else ""
    return f"# {name} =".ljust(COLUMN - 1) + f" # {note}{question.how}"


def faults_of(answers: Answers) -> list[Fault]:
    """Return what is wrong with a job of these answers as a whole: what does not fit, or go together."""
    data: dict[str, Any] = {}
    for key, value in answers.items():
        table = data
        *parents, last = key.split(".")
        for name in parents:
            table = table.setdefault(name, {})
        table[last] = value
    try:
        Design.model_validate(data, context=JOB_FILE)
    except ValidationError as error:
        return faults(error)
    return misfits(data)


def questions_of(fault: Fault) -> list[Question]:
    """Return which questions to put once more: those that answer the key of a fault, or keys within it."""
    return [
        question
        for question in questions()
        if any(f"{key}.".startswith(f"{fault.key}.") or fault.key.startswith(f"{key}.") for key in question.keys)
    ]
