"""A job file made of answers, with a comment beside every key; what nobody knows stands there as a comment."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

from pydantic import ValidationError

from fem.design.asking.questions import QUESTIONS, SIZES, Answers, Question
from fem.design.job import JOB_FILE, misfits
from fem.design.transformer import Design
from geometries.described.faults import Fault, faults

HEAD = """\
# A job file, written by rewound start. Quantities are text with a unit: "48 mm", "1 1/2 in", "2/0 AWG", "0.15 mohm".
# Lines that begin with # are comments: take the # away and tell what is known. All there is to tell: rewound example

title = "Rewound transformer"
"""
COLUMN = 36


def written(answers: Answers) -> str:
    """Return the job file's text; what waits for an answer is marked."""
    return HEAD + "\n".join(_lines(answers)) + "\n"


def waiting(answers: Answers) -> list[str]:
    """Return the keys that the job cannot do without and that are not answered yet."""
    return [question.keys[0] for question in QUESTIONS if _waits(question, answers)]


def _waits(question: Question, answers: Answers) -> bool:
    return question.needed and question.wanted(answers) and not any(key in answers for key in question.keys)


SECTIONS = ("mains", "core", "windings", "windings.primary", "windings.secondary", "leads", "work_piece")


def _lines(answers: Answers) -> Iterator[str]:
    told: set[str] = set()
    for section in SECTIONS:
        used = any(key.rpartition(".")[0] == section for key in (*answers, *waiting(answers)))
        yield f"\n{'' if used else '# '}[{section}]"
        for question in QUESTIONS:
            for key in question.keys:
                place, _, name = key.rpartition(".")
                elsewhere = key == "core.lamination" or (key in SIZES and "core.lamination" in answers)
                if place == section and key not in told and (key in answers or not elsewhere):
                    told.add(key)
                    yield _line(key, name, question, answers)


def _line(key: str, name: str, question: Question, answers: Answers) -> str:
    if key in answers:
        return f"{name} = {answers[key]}".ljust(COLUMN - 1) + f" # {question.how}"
    typical = question.typical(answers) if question.wanted(answers) else ""
    note = "NOT ANSWERED YET: " if key in waiting(answers) else f"taken: {typical}; else " if typical else ""
    return f"# {name} =".ljust(COLUMN - 1) + f" # {note}{question.how}"


def faults_of(answers: Answers) -> list[Fault]:
    """Return what is wrong with a job of these answers as a whole: what does not fit, or go together."""
    data = tomllib.loads(written(answers))
    try:
        Design.model_validate(data, context=JOB_FILE)
    except ValidationError as error:
        return faults(error)
    return misfits(data)


def questions_of(fault: Fault) -> list[Question]:
    """Return which questions to put once more: those that answer the key of a fault, or keys within it."""
    return [
        question
        for question in QUESTIONS
        if any(f"{key}.".startswith(f"{fault.key}.") or fault.key.startswith(f"{key}.") for key in question.keys)
    ]
