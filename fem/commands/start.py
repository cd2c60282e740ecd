"""The command `start`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fem.commands.output import check_places, write_output
from fem.commands.terminal import BAD_INPUT, GAPS, PROGRAM, STOPPED, Refused, ask, say
from fem.report.files.whole import write_text
from fem.report.text.printable import printable

if TYPE_CHECKING:
    from fem.design.asking.questions import Answers, Question


MOST_TRIES = 20
"""Times that a question is put again, or a job that does not go together asked about: no person needs so many."""


def start(
    out: Annotated[
        Path, typer.Option("--out", "-o", metavar="FILE", help="The job file to write; one that is there stays.")
    ] = Path("my.toml"),
) -> int:
    """Ask some twenty questions about the core and the work, and write a first job file.

    Each says how to measure; Enter takes what stands in brackets. Ctrl-C keeps what was answered.

    Example: rewound start -o my.toml
    """
    from fem.design.asking.questions import questions
    from fem.design.asking.written import faults_of, questions_of

    if os.path.lexists(out):
        msg = f"{PROGRAM} start: {printable(str(out))} is there already and stays as it is; name another with -o"
        raise Refused(msg)
    check_places({"-o": out}, ())
    say("Enter takes what stands in brackets. Ctrl-C stops, and keeps what was answered.")
    say("Mains can kill: measure sizes and resistance unplugged, with capacitors discharged.")
    answers: Answers = {}
    try:
        for question in questions():
            if question.wanted(answers):
                answers = _answered(question, answers)
        for _ in range(MOST_TRIES):
            if not (found := faults_of(answers)):
                break
            for fault in found:
                say(f"\n{fault.key}: {fault.message}")
            for question in questions_of(found[0]):
                if question.wanted(answers):
                    answers = _answered(question, answers)
    except (KeyboardInterrupt, EOFError) as stopped:
        say("")
        return _kept(out, answers, STOPPED if isinstance(stopped, KeyboardInterrupt) else GAPS)
    return _kept(out, answers, 0)


def _answered(question: Question, answers: Answers) -> Answers:
    """Put one question until the answer can be used."""
    from fem.design.asking.questions import NotUnderstood

    say(f"\n{question.put()}\n  {question.how}")
    offered = question.offered(answers)
    for _ in range(MOST_TRIES):
        try:
            told = ask(f"  [{offered}] " if offered else "  ")
            if (taken := question.completed(told)) != " ".join(told.split()):
                say(f"  taken as {taken}")
            return question.answer(told, answers)
        except NotUnderstood as fault:
            say(f"  {fault}")
    raise EOFError


def _kept(out: Path, answers: Answers, code: int) -> int:
    """Write what was answered, and say how to go on."""
    from fem.design.asking.written import faults_of, waiting, written

    name = printable(str(out))
    if not answers:
        say(f"{PROGRAM} start: nothing was answered, so {name} is not written")
        return code
    if not write_output(out, lambda path: write_text(path, written(answers)), quiet=False):
        return BAD_INPUT
    if left := waiting(answers):
        say(
            f"{PROGRAM} start: not answered yet: {', '.join(left)}; tell them in {name}, where each says how to measure"
        )
        return code
    found = faults_of(answers)
    for fault in found:
        say(f"{name}: {fault.key}: {fault.message}")
    say(f"{PROGRAM} start: {'put that right in the file, then' if found else 'go on with'}: {PROGRAM} estimate {name}")
    return BAD_INPUT if found and not code else code
