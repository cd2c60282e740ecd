"""All stations, in the order of the report."""

from fem.estimation.stations.bench.heating import HEATING
from fem.estimation.stations.bench.meters import METERS
from fem.estimation.stations.bench.supply import SUPPLY
from fem.estimation.stations.bench.work_piece import WORK_PIECE
from fem.estimation.stations.built.build import BUILD
from fem.estimation.stations.built.cut_list import CUT_LIST
from fem.estimation.stations.built.joints import JOINTS
from fem.estimation.stations.built.leakage import LEAKAGE
from fem.estimation.stations.built.saturation import SATURATION
from fem.estimation.stations.states.half_wave import HALF_WAVE_SUPPLY
from fem.estimation.stations.states.idle import IDLE
from fem.estimation.stations.states.load import LOAD
from fem.estimation.stations.states.load_line import LOAD_LINE
from fem.estimation.stations.states.milliohms import MILLIOHMS
from fem.estimation.stations.states.open_circuit import OPEN_CIRCUIT
from fem.estimation.stations.states.short_circuit import SHORT_CIRCUIT
from fem.estimation.stations.states.switch_on import SWITCH_ON

STATIONS = (
    BUILD,
    JOINTS,
    SATURATION,
    IDLE,
    LEAKAGE,
    OPEN_CIRCUIT,
    SHORT_CIRCUIT,
    LOAD,
    SWITCH_ON,
    HALF_WAVE_SUPPLY,
    LOAD_LINE,
    WORK_PIECE,
    MILLIOHMS,
    HEATING,
    SUPPLY,
    METERS,
    CUT_LIST,
)
