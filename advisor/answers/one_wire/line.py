"""What runs on the outside of a feed line, what a choke keeps off it, where it goes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from advisor.antenna.ground import Ground
from advisor.antenna.solver.cache import identity
from advisor.antenna.solver.cache_files import fetch, keep
from advisor.antenna.solver.currents import Solution, solve
from advisor.antenna.solver.kernel import legendre
from advisor.antenna.solver.nearfield import near_field
from advisor.engine.wires import BandSolution, solve_at
from advisor.station.setup import SetUp
from geo.arrays import Floats
from geo.fields import record

HOT_RADIO_V = 8.0
"""Radio's case over the ground from which on it is warned of: 10 V drive 20 mA through
the 500 ohm of a body, the reference level of ICNIRP 1998 for contact currents of the
public (from memory), and what is told is up to a fifth too low. [V]"""


# A radio whose case hangs higher is not touched from the ground. [m]
_ARM_M = 2.0

# How far from the line's end its voltage is summed up. [m]
_INBOARD_M = 0.15


@record
class LineWork:
    """
    Current on the outside of the feed line on one band, at the station's power.

    Attributes
    ----------
    feed_a : float
        Rms current on it at the feedpoint. [A]
    most_a : float
        Rms current where it is greatest. [A]
    radio_v : float
        Rms voltage of the line's open end over the ground, a radio that is not earthed;
        NaN where the line ends more than 2 m up. [V]
    choke_w : float
        Power that the choke turns to heat. [W]
    pickup_db : float
        Greatest current on the line over that on the wire: noise born beside the line
        comes in as from a source that much weaker beside the wire. [dB]
    gain_db : float
        What the line adds to the strongest gain at 10 degrees. [dB]
    """

    feed_a: float
    most_a: float
    radio_v: float
    choke_w: float
    pickup_db: float
    gain_db: float


def line_work(
    setup: SetUp,
    found: BandSolution,
    soil: Ground,
    wire_power_w: float,
    low_angle_deg: float,
    cache_dir: Path | None = None,
) -> LineWork | None:
    """
    Work out what runs on the outside of a set-up's line.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    found : BandSolution
        It on one band.
    soil : Ground
        Ground below.
    wire_power_w : float
        Power at the feedpoint. [W]
    low_angle_deg : float
        Take-off angle at which the gain is compared. [deg]
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    work : LineWork or None
        None where nothing is said of the line's outside.
    """
    if not found.hung.line:
        return None
    model, mhz = found.hung.model(), found.frequency_mhz
    name = identity("outside of the line", model, mhz, soil.eps_r, soil.sigma_s_m)
    stored = fetch(cache_dir, name)
    if stored is None or stored.get("figures", np.zeros(0)).shape != (5,):
        solution = solve(model, mhz, soil, cache_dir=cache_dir)
        count = len(model.wires) - len(found.hung.line)
        stored = {"figures": _figures(solution, count, cache_dir)}
        keep(cache_dir, name, stored)
    feed_a, most_a, wire_a, radio_v, choke = stored["figures"].tolist()
    scale = float(np.sqrt(wire_power_w))
    plain = solve_at(setup.changed(choke_ohm=None), mhz, soil, cache_dir).wire
    gains = [
        float(sky.gain_dbi(low_angle_deg, sky.azimuth_deg).max())
        for sky in (found.wire, plain)
    ]
    return LineWork(
        feed_a * scale,
        most_a * scale,
        radio_v * scale,
        choke * wire_power_w,
        float(20.0 * np.log10(most_a / wire_a)),
        gains[0] - gains[1],
    )


def _figures(solution: Solution, wires: int, cache_dir: Path | None) -> Floats:
    """At the feed, most on line and wire [A], at the end [V]; choke's share. At 1 W."""
    on_line = solution.mesh.wire >= wires
    size = np.abs(solution.half_currents_a)
    rms = np.sqrt(0.5 / solution.input_w)
    first = int(np.argmax(on_line))
    chokes = [
        watts
        for load, watts in zip(solution.model.loads, solution.loads_w, strict=True)
        if load.wire >= wires
    ]
    return np.array(
        [
            rms * size[first, 0],
            rms * size[on_line].max(),
            rms * size[~on_line].max(),
            rms * end_v(solution, cache_dir),
            sum(chokes) / solution.input_w,
        ]
    )


def end_v(solution: Solution, cache_dir: Path | None) -> float:
    """
    Peak voltage between the last wire's end and the ground: the field summed up.

    Parameters
    ----------
    solution : Solution
        Currents of a wire with the line as its last piece.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    voltage_v : float
        NaN where the end is more than 2 m up. [V]

    Notes
    -----
    It is the same all along the last decimetres, but close to the tip the charge
    crowds as no smooth current shows. Against a resistor of 100 kohm to perfect ground
    it is 7 % low, to a stake in average ground 18 %: the field in the soil is left out.
    """
    last = solution.model.wires[-1]
    end, along = np.array(last.end_m), np.subtract(last.start_m, last.end_m)
    if end[2] > _ARM_M:
        return float("nan")
    start = end + along * min(_INBOARD_M / last.length_m, 0.5)
    down = np.array([0.0, 0.0, -1.0])
    if abs(along[2]) > 0.7 * last.length_m:
        # Beside a wire that hangs: away from it, not along it.
        down = np.array([np.sqrt(0.5), 0.0, -np.sqrt(0.5)])
    # Close to the wire the field goes with one over the distance from its axis.
    x, weight = legendre(12)
    whole = start[2] / -down[2]
    reach = np.log(whole / last.thickness_m)
    away = np.minimum(last.thickness_m * np.exp(reach * x), whole)
    electric, _ = near_field(solution, start + away[:, None] * down, cache_dir)
    each = (electric @ down) * away
    coat = np.log(last.thickness_m / last.radius_m) / last.insulation_eps_r
    return float(abs(np.sum(each * weight) * reach + each[0] * coat))
