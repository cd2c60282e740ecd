"""What one decides by, as data: questions and answers in words, the milliohm table, what to mind, what to change.

Made from an estimate alone, so that a screen and a printed sheet say the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from fem.digits import duration, whole_shares
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.repeated import DutyState
from fem.estimation.stations.bench.supply import BURST, DeviceForecast
from fem.estimation.stations.states.milliohms import MilliohmsOfState
from fem.quantity import Band, Unknown
from fem.report.text.numbers import shown
from fem.report.text.sure import leading, with_band
from fem.trust.caution import Caution, foremost

MOST_ROWS, MOST_CAUTIONS, MOST_TERMS = 4, 3, 2
OWN = {"source", "primary", "leakage", "secondary", "leads", "joints"}
"""What of the milliohms is the machine's and its supply's."""
INTO = {"burst": "into the work", "loaded": "into the load", "shorted": "lead ends joined"}
"""What the machine works into, by its name in the sections of heat and milliohms; the first that there is decides."""


class Decides(Enum):
    """What an answer means for going ahead; the answer itself says it in words."""

    NOTHING = "nothing"
    GO = "go"
    CARE = "care"
    STOP = "stop"


BY_BEHAVIOUR = {"holds": Decides.GO, "may open": Decides.CARE, "opens": Decides.STOP}
RANK = list(BY_BEHAVIOUR).index


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """A question of the bench, the answer in one line, what it decides."""

    question: str
    answer: str
    decides: Decides = Decides.NOTHING


@dataclass(frozen=True, kw_only=True, slots=True)
class MilliohmRow:
    """A row of the milliohm table: R and X [ohm], volts, watts, per cent of all watts."""

    part: str
    resistance: float
    reactance: float | None
    voltage: float
    power: float
    percent: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """All of it.

    Parameters
    ----------
    title
        Of the design.
    answers
        In the order they are asked in.
    state, milliohms
        What the table is of, and its rows: the largest, the rest together, all together.
    cautions
        Those that matter most for these numbers.
    changes
        What would change the numbers most: what the current is in doubt by, and what is in its way.
    untold
        What the job leaves out.
    """

    title: str
    answers: tuple[Answer, ...]
    state: str
    milliohms: tuple[MilliohmRow, ...]
    cautions: tuple[Caution, ...]
    changes: tuple[str, str]
    untold: str


def verdict(estimate: Estimate) -> Verdict:
    """Return the verdict of an estimate."""
    name, state = _milliohm_state(estimate)
    return Verdict(
        title=estimate.title,
        answers=tuple(_answers(estimate)),
        state=INTO.get(name, ""),
        milliohms=() if state is None else _rows(state),
        cautions=foremost(estimate.cautions, MOST_CAUTIONS),
        changes=_changes(estimate, name, state),
        untold=", ".join(_untold(estimate)),
    )


def _answers(estimate: Estimate) -> Iterator[Answer]:
    yield _fit(estimate)
    yield _lead_ends(estimate)
    yield from _into(estimate)
    yield from _mains(estimate)
    yield from _switching_on(estimate)
    yield _no_load(estimate)
    yield _plugged_in(estimate)
    yield from _times(estimate)
    yield from _longest(estimate)


def _fit(estimate: Estimate) -> Answer:
    """Say what is to spare; where something does not fit there is no estimate."""
    build = estimate.build
    width = shown(min(build.primary.spare_build, build.secondary.spare_build), "m")
    return Answer(
        question="does it fit?",
        answer=f"fits: {shown(build.spare_height, 'm')} of height, {width} of width to spare",
        decides=Decides.GO,
    )


def _lead_ends(estimate: Estimate) -> Answer:
    volts = _banded(estimate, "open_circuit.secondary_voltage_rms_V", estimate.open_circuit.secondary_voltage_rms, "V")
    current = estimate.short_circuit.secondary_current_rms
    amperes = _banded(estimate, "short_circuit.secondary_current_rms_A", current, "A")
    return Answer(question="lead ends", answer=f"{volts} no-load; joined {amperes}")


def _into(estimate: Estimate) -> Iterator[Answer]:
    """Say what flows into the work, else into the load."""
    if work := estimate.work_piece:
        burst = estimate.heating.burst if estimate.heating else None
        last = _banded(estimate, "work_piece.hot_current_rms_A", work.hot_current_rms, "A")
        after = f" of {duration(burst.duration)}" if burst else ""
        yield Answer(
            question=INTO["burst"], answer=f"{shown(work.cold_current_rms, 'A')} at first, {last} at the end{after}"
        )
    elif (lost := _gap(estimate.work_piece)) is not None:
        yield _lost(INTO["burst"], lost)
    elif load := estimate.load:
        amperes = _banded(estimate, "load.current_rms_A", load.current_rms, "A")
        watts = _banded(estimate, "load.power_W", load.power, "W")
        yield Answer(question=INTO["loaded"], answer=f"{amperes}; {watts} in {shown(load.resistance, 'ohm')}")
    elif (lost := _gap(estimate.load)) is not None:
        yield _lost(INTO["loaded"], lost)


def _mains(estimate: Estimate) -> Iterator[Answer]:
    """Say what the mains see of this burst, else of the load or of joined lead ends."""
    supply, load = estimate.supply, estimate.load
    joined = estimate.short_circuit.primary_current_rms
    state, amperes = "shorted", _banded(estimate, "short_circuit.primary_current_rms_A", joined, "A")
    if burst := supply.burst:
        state, amperes = BURST, f"up to {shown(max(burst.first_current_rms, burst.last_current_rms), 'A')}"
    elif load:
        state = "with the load"
        amperes = _banded(estimate, "load.primary_current_rms_A", load.primary_current_rms, "A")
    device, forecast = _worst(estimate, state)
    repeated = (supply.repeated_bursts or {}).get(device)
    if forecast is None:
        yield Answer(question="mains", answer=amperes)
        return
    question, does, behaviour = "mains, left on", _when(forecast), forecast.behaviour
    if state == BURST:
        question = "mains, burst"
        if repeated is not None and RANK(repeated.behaviour) > RANK(behaviour):
            does, behaviour = f"{does}; repeated {repeated.behaviour}", repeated.behaviour
    elif repeated is not None:
        # a burst of [duty] is over before what stays would open it
        question, does, behaviour = "mains, bursts", repeated.behaviour, repeated.behaviour
        if behaviour != "holds" and not isinstance(repeated.earliest_cold, Unknown):
            does += f" after {duration(repeated.earliest_cold)}"
    share = f"{100 * forecast.multiple:.0f} % of {_short(device)}"
    yield Answer(question=question, answer=f"{amperes}, {share}: {does}", decides=BY_BEHAVIOUR[behaviour])


def _switching_on(estimate: Estimate) -> Iterator[Answer]:
    switched = estimate.switch_on
    if isinstance(switched, Unknown):
        yield from [_lost("switching on", switched)] if switched.gap else []
        return
    peak = _banded(estimate, "switch_on.primary_first_peak_A", switched.primary_first_peak, "A")
    device, forecast = _worst(estimate, "switching on")
    if forecast is None:
        yield Answer(question="switching on", answer=f"{peak} first peak")
        return
    at_once = "" if forecast.behaviour == "holds" else " at once"
    does = f"{_short(device)} {forecast.behaviour}{at_once}"
    yield Answer(question="switching on", answer=f"{peak} first peak: {does}", decides=BY_BEHAVIOUR[forecast.behaviour])


def _worst(estimate: Estimate, state: str) -> tuple[str, DeviceForecast | None]:
    """Return the device that fares worst in a state, and how."""
    found = {name: states[state] for name, states in estimate.supply.devices.items() if state in states}
    if not found:
        return "", None
    name = max(found, key=lambda one: (RANK(found[one].behaviour), found[one].multiple))
    return name, found[name]


def _when(forecast: DeviceForecast) -> str:
    """Say what a device does and within what time."""
    first, last = forecast.earliest, forecast.latest
    if forecast.behaviour == "opens" and not isinstance(last, Unknown):
        early = "" if isinstance(first, Unknown) or not first else f"{duration(first)} to "
        return f"opens in {early}{duration(last)}"
    if forecast.behaviour == "may open" and not isinstance(first, Unknown):
        return f"may open after {duration(first)}" if first else "may open at once"
    return forecast.behaviour


def _short(device: str) -> str:
    return device.removesuffix(" breaker")


def _no_load(estimate: Estimate) -> Answer:
    saturation = estimate.saturation
    amperes = _banded(estimate, "idle.current_rms_A", estimate.idle.current_rms, "A")
    peak, most = saturation.peak_flux_density, saturation.target_flux_density
    tesla = _banded(estimate, "saturation.peak_flux_density_T", peak, "T")
    return Answer(
        question="no-load",
        answer=f"{amperes}; {tesla}, {'above' if peak > most else 'within'} {shown(most, 'T')}",
        decides=Decides.CARE if peak > most else Decides.GO,
    )


def _plugged_in(estimate: Estimate) -> Answer:
    """Say whether it may stay on the mains between bursts, with nothing connected."""
    question, heating = "stay plugged in?", estimate.heating
    idle = heating if isinstance(heating, Unknown) else heating.idle
    device, forecast = _worst(estimate, "idle")
    if forecast is not None and forecast.behaviour != "holds":
        return Answer(question=question, answer=f"no: {_short(device)} {_when(forecast)}", decides=Decides.STOP)
    if isinstance(idle, Unknown):
        return Answer(question=question, answer=f"not known: {idle.reason}", decides=Decides.CARE)
    if idle.too_hot:
        first = "" if isinstance(idle.first_too_hot, Unknown) else f" after {duration(idle.first_too_hot)}"
        return Answer(question=question, answer=f"no: {', '.join(idle.too_hot)} too hot{first}", decides=Decides.STOP)
    if isinstance(idle.temperatures, Unknown):
        return Answer(question=question, answer=f"no: {idle.temperatures.reason}", decides=Decides.STOP)
    part, kelvin = max(idle.temperatures.items(), key=lambda each: each[1])
    settles = _banded(estimate, f"heating.idle.temperatures_K.{part}", kelvin, "K")
    watts = shown(estimate.idle.core_loss + estimate.idle.copper_loss, "W")
    answer = f"yes, between bursts: {part} {settles}, {watts}"
    return Answer(question=question, answer=answer, decides=Decides.GO)


def _times(estimate: Estimate) -> Iterator[Answer]:
    """Say when the work is at its temperature, glows, and is lost."""
    if not (work := estimate.work_piece):
        return
    said, decides = [], Decides.GO
    target, red, through = work.time_to_target, work.time_to_visible_red, work.time_to_melting_through
    if not isinstance(target, Unknown):
        said.append(f"wanted {_banded(estimate, 'work_piece.time_to_target_s', target, 's')}")
    elif target.reason.startswith("not in"):
        decides = Decides.CARE
        said.append("NOT as hot as wanted")
    if not isinstance(through, Unknown):
        decides = Decides.STOP
        said.append(f"MELTS THROUGH {duration(through)}")
    elif melts := _melts_through(estimate):
        said.append(f"melts through {duration(melts)}")
    elif not isinstance(work.settles_at, Unknown):
        said.append(f"left on {shown(work.settles_at, 'K')}")
    said.append("not red" if isinstance(red, Unknown) else f"red {duration(red)}")
    yield Answer(question="time to heat", answer="; ".join(said), decides=decides)


def _melts_through(estimate: Estimate) -> float | None:
    """Return after what time the work melts through if the current is left on [s], if it does."""
    work = estimate.work_piece
    if not work or isinstance(work.settles_after, Unknown) or not isinstance(work.settles_at, Unknown):
        return None
    return work.settles_after


def _longest(estimate: Estimate) -> Iterator[Answer]:
    """Say how long the burst that counts may be, what sets it, and how far apart such bursts must be."""
    heating = estimate.heating
    if isinstance(heating, Unknown):
        yield from [_lost("longest burst", heating)] if heating.gap else []
        return
    name = next(one for one in INTO if _described(getattr(heating, one)))
    state = getattr(heating, name)
    if isinstance(state, Unknown):
        yield _lost("longest burst", state)
        return
    longest, melts, decides = state.longest, _melts_through(estimate), Decides.NOTHING
    if not isinstance(longest, Unknown):
        at_most = _banded(estimate, f"heating.{name}.longest_s", longest, "s")
        answer = f"{at_most}, set by {state.limiting_part}"
    elif name == "burst" and melts and not longest.gap:
        answer = f"{duration(melts)}, then the work melts through"
    else:
        answer = f"not known: {longest.reason}" if longest.gap else f"no limit: {longest.reason}"
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
        return Answer(question=question, answer=f"not known: {often.reason}", decides=Decides.STOP)
    by = "" if isinstance(duty.limiting_part, Unknown) else f", by {duty.limiting_part}"
    at_least = f"at least {_banded(estimate, 'heating.duty.shortest_period_s', often, 's')}{by}"
    if duty.too_hot:
        return Answer(question=question, answer=f"TOO OFTEN; {at_least}", decides=Decides.STOP)
    return Answer(question=question, answer=f"fine; {at_least}", decides=Decides.GO)


def _milliohm_state(estimate: Estimate) -> tuple[str, MilliohmsOfState | None]:
    """Return what the milliohm table is of: the burst's end, else the load, else joined lead ends."""
    told = estimate.milliohms
    for name in INTO if told else ():
        if state := getattr(told, name):
            return name, state
    return "", None


def _rows(state: MilliohmsOfState) -> tuple[MilliohmRow, ...]:
    """Return the largest parts, the rest together, and all together; per cent that sum to 100."""
    parts = sorted(state.parts.items(), key=lambda each: -each[1].voltage)
    large, rest = parts[:MOST_ROWS], [part for _, part in parts[MOST_ROWS:]]
    flat = isinstance(state.reactance, Unknown)
    found = [(name, p.resistance, p.reactance, p.voltage, p.power, p.share) for name, p in large]
    if rest:
        r, x = sum(p.resistance for p in rest), sum(p.reactance for p in rest)
        watts, share = sum(p.power for p in rest), sum(p.share for p in rest)
        found.append(("the rest", r, x, abs(complex(r, x)) * state.current_rms, watts, share))
    shares = [*whole_shares(row[-1] for row in found), 100]
    whole = state.in_phase_voltage / state.current_rms if flat else state.resistance
    found.append(("together", whole, state.reactance or 0.0, state.voltage, state.power, 1.0))
    return tuple(
        MilliohmRow(
            part=name,
            resistance=r,
            reactance=None if flat else x,
            voltage=volts,
            power=watts,
            percent=share,
        )
        for (name, r, x, volts, watts, _), share in zip(found, shares, strict=True)
    )


def _changes(estimate: Estimate, name: str, state: MilliohmsOfState | None) -> tuple[str, str]:
    """Name the largest terms of the deciding current's band, and the largest of the machine's own milliohms."""
    keys = {"burst": "work_piece.hot_current_rms_A", "loaded": "load.current_rms_A"}
    band = estimate.bands.get(keys.get(name, "short_circuit.secondary_current_rms_A"))
    doubts = path = ""
    if isinstance(band, Band) and (terms := leading(band)[:MOST_TERMS]):
        doubts = ", ".join(f"{words} {100 * share:.0f} %" for words, share in terms)
    if state is not None:
        own = {part: abs(complex(row.resistance, row.reactance)) for part, row in state.parts.items() if part in OWN}
        most = sorted(own, key=lambda part: -own[part])[:MOST_TERMS]
        path = ", ".join(f"{part} {shown(own[part], 'ohm')}" for part in most)
    return doubts, path


def _untold(estimate: Estimate) -> Iterator[str]:
    """Name what the job leaves out that the verdict would answer with."""
    if not _described(estimate.work_piece) and not _described(estimate.load):
        yield "work piece or load"
    if not estimate.supply.devices:
        yield "breaker"
    if estimate.supply.assumed:
        yield "mains impedance"
    heating = estimate.heating
    if heating and not _described(heating.duty):
        yield "duty"
    force = estimate.short_circuit.lead_force
    if isinstance(force, Unknown) and "[leads]" in force.reason:
        yield "leads"
    if not estimate.joints.told:
        yield "joints (typical taken)"


def _banded(estimate: Estimate, key: str, value: float, unit: str) -> str:
    """Return a number with its band behind it, its unit but once."""
    band = estimate.bands.get(key)
    if not isinstance(band, Band):
        return shown(value, unit)
    number, between = with_band(value, band, unit)
    between = between.partition(";")[0]
    if all(end.count(" ") == 1 for end in (number, *between.split(" to "))):
        between = between.replace(f" {number.partition(' ')[2]}", "")
    return f"{number} ({between})" if between else number


def _lost(question: str, why: Unknown) -> Answer:
    return Answer(question=question, answer=f"not known: {why.reason}", decides=Decides.CARE)


def _gap(value: object) -> Unknown | None:
    """Return why a result that was asked for and described is not there, if so."""
    return value if isinstance(value, Unknown) and value.gap else None


def _described(value: object) -> bool:
    """Return whether the job has it, found or lost."""
    return not isinstance(value, Unknown) or value.gap
