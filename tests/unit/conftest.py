"""An estimate with round numbers and real fields on a coarse mesh, for the tests of what is done with estimates."""

import math
from importlib.resources import files

import numpy as np
import pytest

from fem.design.job import read_job
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.pictures import Pictures
from fem.estimation.provenance import Provenance
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.supply import Supply
from fem.estimation.stations.built.build import Build, WindingState
from fem.estimation.stations.built.joints import JointsState
from fem.estimation.stations.built.leakage import Leakage
from fem.estimation.stations.built.saturation import SATURATION, Saturation
from fem.estimation.stations.states.half_wave import HalfWaveSupply
from fem.estimation.stations.states.idle import Idle, VoltageSweep
from fem.estimation.stations.states.load import LoadState
from fem.estimation.stations.states.open_circuit import OpenCircuit
from fem.estimation.stations.states.reduced_voltage import ChosenTest
from fem.estimation.stations.states.short_circuit import ShortCircuit
from fem.estimation.stations.states.switch_on import SwitchOn
from fem.field.static.model import SolvedField, build_model, solve_model
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from fem.quantity import NOT_ASKED, Band, Unknown
from fem.trust.general import always
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.shapes.blocks import Block
from geometries.shapes.section import Role
from geometries.windings.arrangement import place

PLACES = {"centre leg": 1.53, "left outer leg": 1.5, "right outer leg": 1.5, "lower yoke": 1.51, "upper yoke": 1.49}


def _hand_made() -> Estimate:
    """Return an estimate of the example with round numbers, and fields solved on the coarsest mesh."""
    design = read_job(str(files("fem") / "examples" / "bandsaw_brazing.toml"))
    blocks = place(design.core, design.windings)
    winding = {"mean_turn": 0.31, "height": 0.031, "build": 0.0222, "spare_build": 0.0023, "mass": 1.3}
    lies = {"ohms": "measured", "lay": "an even block", "places": Unknown("too many to be placed one by one")}
    sections = {
        "build": Build(
            cores=1,
            primaries=Unknown("there is one core"),
            core_mass=4.46,
            fill_factor=0.34,
            spare_height=0.0043,
            temperature=313.15,
            primary=WindingState(turns=230, resistance=0.66, ac_ratio=1.006, conductor_area=2.01e-6, **winding, **lies),
            secondary=WindingState(turns=3, resistance=2.6e-4, ac_ratio=1.001, conductor_area=70e-6, **winding, **lies),
        ),
        "joints": JointsState(resistance=1e-4, told=True, groups={}),
        "saturation": Saturation(
            volts_per_turn=0.994,
            peak_flux_density=1.53,
            peak_flux_density_by_place=PLACES,
            knee_voltage=Unknown("the curve never bends that sharply"),
            margin=Unknown("no knee"),
            target_flux_density=1.5,
            fewest_primary_turns=236,
            extra_turns=6,
            turns_keep_to="1.50 T",
        ),
        "idle": Idle(
            current_rms=1.17,
            current_peak=2.31,
            crest_factor=1.97,
            current_at_106_percent=1.52,
            current_at_110_percent=1.88,
            harmonics={"1": 1.05, "3": 0.42, "5": 0.17},
            joint_share=0.4, core_loss=24.0,
            hysteresis_loss=17.0,
            eddy_loss=7.0,
            copper_loss=0.9,
            apparent_power=269.0,
            power_factor=0.093,
            share_of_rated=0.073,
            voltage_sweep=VoltageSweep(voltage_rms=(100.0, 230.0), current_rms=(0.2, 1.17), real_power=(6.0, 25.0)),
        ),
        "leakage": Leakage(
            permeance=1.83e-7,
            window_permeance=1.1e-7,
            end_turn_permeance=0.73e-7,
            recipe_permeance=1.79e-7,
            shorted_permeance=Unknown("no [shunt] is fitted"),
            lead_loop_inductance=5.2e-7,
            inductance_primary=1.27e-2,
            inductance_secondary=2.17e-6,
            window_reactance_secondary=3.1e-4,
            end_turn_reactance_secondary=2.06e-4,
            lead_reactance=1.63e-4,
            reactance_secondary=6.8e-4,
            coupling=0.985,
        ),
        "open_circuit": OpenCircuit(secondary_voltage_rms=2.96),
        "short_circuit": ShortCircuit(
            secondary_current_rms=2480.0,
            primary_current_rms=32.8,
            secondary_first_peak=4210.0,
            primary_first_peak=57.0,
            input_apparent_power=7100.0,
            input_power=5550.0,
            power_factor=0.78,
            primary_current_density=16.3e6,
            secondary_current_density=35.4e6,
            axial_force=520.0,
            radial_force=80.0,
            lead_force=88.0,
            peak_flux_density=PLACES,
            phasor_difference=1e-4,
            reduced_voltage_test=ChosenTest(
                primary_current_rms=10.0, chosen="as chosen", primary_voltage_rms=66.0, secondary_current_rms=765.0,
                power=520.0, power_factor=0.79,
            ),
        ),
        "load": LoadState(
            resistance=1.5e-3,
            rectifier=Unknown("there is none"),
            current_rms=1190.0,
            voltage_rms=1.79,
            power=2120.0,
            primary_current_rms=16.2,
            input_apparent_power=3600.0,
            input_power=3000.0,
            power_factor=0.83,
            efficiency=0.71,
            primary_direct_current=0.0,
            core_direct_ampere_turns=0.0,
        ),
        "switch_on": SwitchOn(
            remanent_flux_density=0.8, remanence_chosen="as told", primary_first_peak=98.0,
            primary_first_peak_without_remanence=61.0,
            rms_10_ms=58.0, rms_100_ms=24.0, joule_integral=34.0, peak_by_cycle=(98.0, 44.0, 26.0),
        ),
        "half_wave_supply": HalfWaveSupply(
            current_rms=33.0, current_mean=18.5, current_peak=79.0, peak_flux_density=2.28
        ),
        "load_line": NOT_ASKED,
        "work_piece": NOT_ASKED,
        "milliohms": NOT_ASKED,
        "heating": NOT_ASKED,
        "supply": Supply(
            resistance=0.4, reactance=0.25, assumed=True, prospective_short_current=488.0, idle_dip=0.0004,
            shorted_dip=0.05, loaded_dip=0.02, burst=NOT_ASKED, devices={},
            repeated_bursts=NOT_ASKED,
        ),
        "meters": NOT_ASKED,
        "cut_list": NOT_ASKED,
    }  # fmt: skip
    return Estimate(
        title=design.title,
        **sections,
        bands={"idle.current_rms_A": Band(low=0.71, high=2.4, why="steel, gap, dimensions, mains +-10 %")},
        cautions=(*SATURATION.cautions(Case(design=design), sections["saturation"]), *always()),
        provenance=Provenance(
            version="0.1.0",
            packages={"numpy": "2.4.6", "gmsh": "4.15.2"},
            job_digest="a" * 64,
            section_digest="b" * 64,
            mesh_level=1,
            mesh_unknowns=4321,
            end_region_unknowns=65432,
            flux_discretisation_error=4e-4,
            leakage_discretisation_error=2e-3,
        ),
        pictures=_pictures(design, blocks),
    )


def _pictures(design: Design, blocks: tuple[Block, Block]) -> Pictures:
    section = section_of(design.core, blocks)
    mesh = mesh_section(section.half())
    sheet = Reluctivity.of_lamination(steel("M530-50A").curve, 0.95)
    linear = Reluctivity.linear(5000.0)

    def solved(law: Reluctivity, **ampere_turns: float) -> SolvedField:
        return solve_model(build_model(mesh, lambda r: law if r.role is Role.IRON else None), ampere_turns)

    H = np.concatenate(([0.0], np.geomspace(1.0, 1e5, 60)))
    B = steel("M530-50A").curve.flux_density(H)
    flux = B * design.core.leg_iron_area
    time = np.linspace(0.0, 0.02, 201)
    angle = 2 * np.pi * 50 * time
    return Pictures(
        core=design.core,
        windings=design.windings,
        blocks=blocks,
        section=section,
        idle_field=solved(sheet, primary=530.0),
        leakage_field=solved(linear, primary=1.0, secondary=-1.0),
        ampere_turns=H * 0.288 + 150 * B,
        flux_per_turn=flux,
        flux_density=B,
        operating_flux_per_turn=1.53 * design.core.leg_iron_area,
        operating_ampere_turns=530.0,
        knee_flux_per_turn=1.4 * design.core.leg_iron_area,
        time=time,
        voltage=230 * math.sqrt(2) * np.cos(angle),
        current=1.6 * np.sin(angle) - 0.6 * np.sin(3 * angle),
        work_piece=None,
    )


@pytest.fixture(scope="session")
def hand_made() -> Estimate:
    return _hand_made()
