"""Where the milliohms are: what each part between mains and load takes of the volts and of the watts."""

from collections.abc import Mapping
from dataclasses import dataclass

from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import Loaded


@dataclass(frozen=True, kw_only=True, slots=True)
class SeriesPart:
    """One part of the way from the mains to the load, as it appears at the secondary.

    Parameters
    ----------
    impedance
        Its r.m.s. volts over the secondary's current, that current being the phase reference [ohm].
    power
        [W].
    """

    impedance: complex
    power: float


@dataclass(frozen=True, kw_only=True, slots=True)
class SeriesParts:
    """All parts between the e.m.f. of the mains and the load's other end.

    Parameters
    ----------
    current
        Of the secondary, r.m.s.; by phasors its fundamental [A].
    emf
        Mains e.m.f. times the turns ratio, r.m.s. [V].
    parts
        By name, from the mains to the load. By phasors their impedances add up to the e.m.f. over the current; powers
        always add up to what the mains give.
    """

    current: float
    emf: float
    parts: Mapping[str, SeriesPart]

    @property
    def impedance(self) -> complex:
        """Of all parts [ohm]."""
        return sum((part.impedance for part in self.parts.values()), start=0j)

    @property
    def power(self) -> float:
        """Of all parts [W]."""
        return sum(part.power for part in self.parts.values())


def series_parts(circuit: Circuit, state: Loaded, *, joint_resistance: float = 0.0) -> SeriesParts:
    """Split the way from the mains to the load into what each part has of its impedance.

    Parameters
    ----------
    state
        Of that circuit.
    joint_resistance
        That part of the circuit's lead resistance which is joints [ohm].

    Raises
    ------
    ValueError
        If the joints exceed the lead resistance they are part of.

    Notes
    -----
    Kirchhoff's voltage law with the fundamental of every current: U N_2/N_1 = I_2 sum_k Z_k. Source and primary copper
    are those of the secondary's current, (N_2/N_1)^2 (R_s + j omega L_s) and (N_2/N_1)^2 R_1; what the core draws
    besides is no impedance in this path: as "core" it has the volts that its current takes in both, and the watts that
    are left of Re(U I_1*): core loss, and more copper loss. A power of any other part is R_k I_2^2. A leakage path that
    saturates turns power of the fundamental into harmonics, and so has a resistance.
    """
    check_joints(circuit, joint_resistance)
    ratio = circuit.secondary_turns / circuit.primary_turns
    omega = circuit.angular_frequency
    current = abs(state.secondary_phasor)
    # Everything is turned until the load current lies along the real axis.
    turn = state.secondary_phasor.conjugate() / current
    primary, induced = state.primary_phasor * turn, state.primary_emf_rms * turn
    source = complex(circuit.source_resistance, omega * circuit.source_inductance)
    mains = induced + (source + circuit.primary_resistance) * primary
    outside = complex(circuit.lead_resistance - joint_resistance, omega * circuit.lead_inductance)
    beyond = circuit.secondary_resistance + joint_resistance + state.load_resistance + outside
    leakage = 1j * omega * (circuit.leakage_inductance_secondary - circuit.lead_inductance)
    if isinstance(circuit.leakage_permeance, LeakageCurve):
        leakage = ratio * induced / current - beyond
    ohms = {
        "source": source * ratio**2,
        "primary": complex(circuit.primary_resistance * ratio**2),
        "leakage": leakage,
        "secondary": complex(circuit.secondary_resistance),
        "leads": outside,
        "joints": complex(joint_resistance),
        "load": complex(state.load_resistance),
    }
    parts = {name: SeriesPart(impedance=z, power=z.real * current**2) for name, z in ohms.items()}
    core = SeriesPart(
        impedance=ratio * mains / current - sum(ohms.values()),
        power=(mains * primary.conjugate()).real - sum(part.power for part in parts.values()),
    )
    # between what lies on the mains' side of it and on the load's
    order = {"source": parts.pop("source"), "primary": parts.pop("primary"), "core": core, **parts}
    return SeriesParts(current=current, emf=ratio * abs(mains), parts=order)


def check_joints(circuit: Circuit, joint_resistance: float) -> None:
    """Refuse joints [ohm] that are more than the lead resistance they are part of."""
    if not 0 <= joint_resistance <= circuit.lead_resistance:
        msg = f"joint_resistance must lie within 0 and {circuit.lead_resistance:g} ohm, got {joint_resistance!r}"
        raise ValueError(msg)
