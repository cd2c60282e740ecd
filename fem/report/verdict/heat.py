"""Answers about heat: left plugged in, the work, the longest burst, how often."""

from __future__ import annotations

from collections.abc import Iterator

from fem.digits import duration
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.repeated import DutyState
from fem.quantity import Unknown
from fem.report.text.numbers import shown
from fem.report.verdict.amperes import short_name, when, worst
from fem.report.verdict.answer import INTO, Answer, Decides, banded, described, lost


def plugged_in(estimate: Estimate) -> Answer:
    """Say whether it may stay on the mains between bursts, with nothing connected."""
    question, heating = "stay plugged in?", estimate.heating
    idle = heating if isinstance(heating, Unknown) else heating.idle
    device, forecast = worst(estimate, "idle")
    if forecast is not None and forecast.behaviour != "holds":
        return Answer(question=question, answer=f"no: {short_name(device)} {when(forecast)}", decides=Decides.STOP)
    if isinstance(idle, Unknown):
        return Answer(question=question, answer=f"not known: {idle.reason}", decides=Decides.CARE)
    if idle.too_hot:
        first = "" if isinstance(idle.first_too_hot, Unknown) else f" after {duration(idle.first_too_hot)}"
        return Answer(question=question, answer=f"no: {', '.join(idle.too_hot)} too hot{first}", decides=Decides.STOP)
    if isinstance(idle.temperatures, Unknown):
        return Answer(question=question, answer=f"no: {idle.temperatures.reason}", decides=Decides.STOP)
    part, kelvin = max(idle.temperatures.items(), key=lambda each: each[1])
    settles = banded(estimate, f"heating.idle.temperatures_K.{part}", kelvin, "K")
    watts = shown(estimate.idle.core_loss + estimate.idle.copper_loss, "W")
    answer = f"yes, between bursts: {part} {settles}, {watts}"
    return Answer(question=question, answer=answer, decides=Decides.GO)


def times(estimate: Estimate) -> Iterator[Answer]:
    """Say when the work is at its temperature, glows, and is lost."""
    if not (work := estimate.work_piece):
        return
    said, decides = [], Decides.GO
    target, red, through = work.time_to_target, work.time_to_visible_red, work.time_to_melting_through
    if not isinstance(target, Unknown):
        said.append(f"wanted {banded(estimate, 'work_piece.time_to_target_s', target, 's')}")
    elif target.reason.startswith("not in"):
        decides = Decides.CARE
        said.append("NOT as hot as wanted")
    if not isinstance(through, Unknown):
        decides = Decides.STOP
        said.append(f"MELTS THROUGH {duration(through)}")
    elif melts := _melts_through(estimate):
        said.append(f"melts through {duration(melts)}")
    elif not isinstance(work.settles_at, Unknown):
        said.append(f"settles at {shown(work.settles_at, 'K')}")
    said.append("not red" if isinstance(red, Unknown) else f"red {duration(red)}")
    yield Answer(question="time to heat", answer="; ".join(said), decides=decides)


def _melts_through(estimate: Estimate) -> float | None:
    """Return after what time the work melts through if the current is left on [s], if it does."""
    work = estimate.work_piece
    if not work or isinstance(work.settles_after, Unknown) or not isinstance(work.settles_at, Unknown):
        return None
    return work.settles_after


def longest_burst(estimate: Estimate) -> Iterator[Answer]:
    """Say how long the burst that counts may be, what sets it, and how far apart such bursts must be."""
    heating = estimate.heating
    if isinstance(heating, Unknown):
        yield from [lost("longest burst", heating)] if heating.gap else []
        return
    name = next(one for one in INTO if described(getattr(heating, one)))
    state = getattr(heating, name)
    if isinstance(state, Unknown):
        yield lost("longest burst", state)
        return
    longest, melts, decides = state.longest, _melts_through(estimate), Decides.NOTHING
    if not isinstance(longest, Unknown):
        at_most = banded(estimate, f"heating.{name}.longest_s", longest, "s")
        answer = f"{at_most}, set by {state.limiting_part}"
    elif name == "burst" and melts and not longest.gap:
        answer = f"{duration(melts)}, then the work melts through"
    else:
        why = f": {longest.reason}" if longest.gap or name == "burst" else ""
        answer = f"not known{why}" if longest.gap else f"no limit{why}"
    if name != "burst":
        answer = f"{answer}, {INTO[name]}"
    elif state.too_hot:
        answer, decides = f"TOO LONG; {answer}", Decides.STOP
    yield Answer(question="longest burst", answer=answer, decides=decides)
    if duty := heating.duty:
        yield _apart(estimate, duty)


def _apart(estimate: Estimate, duty: DutyState) -> Answer:
    """Say how far apart the bursts of the duty that is described must begin."""
    question, often = "burst to burst", duty.shortest_period
    if isinstance(often, Unknown):
        none = f"{'not known' if often.gap else 'NO'}: {often.reason}"
        return Answer(question=question, answer=none, decides=Decides.CARE if often.gap else Decides.STOP)
    by = "" if isinstance(duty.limiting_part, Unknown) else f", by {duty.limiting_part}"
    at_least = f"at least {banded(estimate, 'heating.duty.shortest_period_s', often, 's')}{by}"
    if duty.too_hot:
        return Answer(question=question, answer=f"TOO OFTEN; {at_least}", decides=Decides.STOP)
    if duty.allowed_share == 1:
        at_least = "one may follow the other at once"
    return Answer(question=question, answer=f"fine; {at_least}", decides=Decides.GO)
