"""What an estimate may leave out, because it costs more than the rest of the circuit together."""

from __future__ import annotations

from collections.abc import Set
from enum import Enum


class Part(Enum):
    """A costly part, in words for whoever waits for it."""

    REMEDIES = "turns that cure saturation"
    FIRST_PEAKS = "first peaks and forces with the lead ends joined"
    SHORTED_PLACES = "flux density by place with the lead ends joined"
    PHASOR_CHECK = "phasors with the lead ends joined against the time domain"
    SWITCH_ON = "switching on at no-load"
    HALF_WAVE_SUPPLY = "no-load with one half wave of the supply missing"
    MAINS_TOLERANCE = "no-load current at 106 and 110 % of the mains voltage"
    VOLTAGE_SWEEP = "no-load current against voltage"
    SHORT_TEST = "the test on reduced voltage"
    CONDUCTOR_SLICE = "sharing of current between wires in hand, loss in thick conductors"
    LOAD_LINE = "the lead ends from no-load to joined, where the milliohms are"
    WORK_PIECE = "the work piece in a burst"
    HEATING = "heat in the machine"
    CUT_LIST = "what to cut"
    METERS = "what meters will show"
    BANDS = "bands"
    PICTURES = "fields and curves for figures"


EVERYTHING: Set[Part] = frozenset(Part)
