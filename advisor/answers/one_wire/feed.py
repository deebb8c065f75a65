"""
What the radio sees of a wire: impedance over the band, SWR, losses, resonance, trim.

The band is swept with the wire left as it hangs at the planning frequency. A few
frequencies are solved and a rational function is put through the reflection, which is
what an impedance with resonances is.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.antenna.feed import (
    RADIO_OHM,
    Transformer,
    best_transformer,
    current_a,
    feed_chain,
    resonances_mhz,
    trim_m,
    voltage_v,
)
from advisor.antenna.ground import Ground
from advisor.antenna.line import Line, reflection
from advisor.antenna.shapes.parts import LIGHT_M_MHZ, HungWire
from advisor.antenna.solver.cache import identity
from advisor.antenna.solver.cache_files import fetch, keep
from advisor.antenna.solver.sweep import impedance_over
from advisor.engine.wires import BandSolution, chain_for, feed_parts
from advisor.station.bands import Band
from advisor.station.setup import SetUp
from geo.arrays import Complexes, Floats

BAND_POINTS = 21
"""Frequencies within a band at which the SWR is told, both edges among them."""

BEYOND_BAND = 0.06
"""How far past both edges a resonance is looked for, as a part of the frequency."""

# Frequencies solved for a sweep: this many, and two more for every further turn of the
# phase along the wire and back by so many radians; errors stay under 1 %.
_LEAST_SOLVED, _TURN_RAD = 5, 3.0

_FINE = 601


@dataclass(frozen=True, eq=False)
class Sweep:
    """
    One band from edge to edge.

    Attributes
    ----------
    frequency_mhz : numpy.ndarray
        Shape (F,), rising, both edges in it. [MHz]
    wire_ohm : numpy.ndarray
        Shape (F,), impedance at the feedpoint. [ohm]
    radio_swr : numpy.ndarray
        Shape (F,), SWR at the radio's end, before any tuner. [1]
    """

    frequency_mhz: Floats
    wire_ohm: Complexes
    radio_swr: Floats

    @property
    def best(self) -> int:
        """Place of the lowest SWR."""
        return int(np.argmin(self.radio_swr))


@dataclass(frozen=True)
class OtherTransformer:
    """
    The transformer that brings most power to the wire over the band.

    Attributes
    ----------
    name : str
        Its ratio.
    loss_db : float
        All losses from radio to wire with it at the planning frequency, with a tuner
        if the set-up has one. [dB]
    radio_swr : float
        SWR at the radio there. [1]
    """

    name: str
    loss_db: float
    radio_swr: float


@dataclass(frozen=True)
class Resonance:
    """
    Where a wire resonates, in the band or within 6 % of it.

    Attributes
    ----------
    frequency_mhz : float
        Where the reactance is zero; NaN where it is nowhere. [MHz]
    resistance_ohm : float
        Resistance there. [ohm]
    highest_mhz : float
        Where the resistance is highest; NaN where it only rises or falls. [MHz]
    highest_ohm : float
        That resistance. [ohm]
    add_mm : float
        Wire to add over its whole length for the planning frequency, negative to cut
        off; NaN without a resonance. [mm]
    mm_per_khz : float
        Change of length for one kilohertz. [mm/kHz]
    """

    frequency_mhz: float
    resistance_ohm: float
    highest_mhz: float
    highest_ohm: float
    add_mm: float
    mm_per_khz: float


@dataclass(frozen=True, eq=False)
class FeedWork:
    """
    A set-up's feed on one band.

    Attributes
    ----------
    transformer, line : str
        What is between wire and radio; ``none`` for nothing.
    line_m : float
        Length of the line. [m]
    tuner : bool
        Whether a tuner at the radio takes the mismatch away.
    wire_ohm : complex
        Impedance at the feedpoint on the planning frequency. [ohm]
    radio_swr, line_swr : float
        SWR there at the radio and on the line. [1]
    transformer_loss_db, matched_line_loss_db, added_line_loss_db : float
        Losses there: the transformer, the line if it were matched, what its standing
        wave adds. [dB]
    mismatch_loss_db : float
        What the radio cannot deliver there; 0 with a tuner. [dB]
    wire_power_w : float
        What is left of the station's power at the feedpoint. [W]
    voltage_v, current_a : float
        Rms at the feedpoint at that power. [V, A]
    sweep : Sweep
        Over the band.
    resonance : Resonance
        Near it.
    best : OtherTransformer
        Best transformer of the table.
    """

    transformer: str
    line: str
    line_m: float
    tuner: bool
    wire_ohm: complex
    radio_swr: float
    line_swr: float
    transformer_loss_db: float
    matched_line_loss_db: float
    added_line_loss_db: float
    mismatch_loss_db: float
    wire_power_w: float
    voltage_v: float
    current_a: float
    sweep: Sweep
    resonance: Resonance
    best: OtherTransformer

    @property
    def heat_db(self) -> float:
        """Losses in transformer and line, in dB."""
        return (
            self.transformer_loss_db
            + self.matched_line_loss_db
            + self.added_line_loss_db
        )

    @property
    def loss_db(self) -> float:
        """All losses from radio to wire, in dB."""
        return self.heat_db + self.mismatch_loss_db


def feed_work(
    setup: SetUp,
    band: Band,
    found: BandSolution,
    soil: Ground,
    power_w: float,
    cache_dir: Path | None = None,
) -> FeedWork:
    """
    Work out a set-up's feed on one band.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    band : Band
        The band, for its edges.
    found : BandSolution
        The set-up solved at the planning frequency.
    soil : Ground
        Ground below.
    power_w : float
        Power of the radio. [W]
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    work : FeedWork
        Impedances, SWR, losses, resonance.
    """
    chain = found.chain
    wire_w = float(chain.wire_power_w(power_w)[0])
    z_ohm = found.solved.z_ohm
    transformer, line = feed_parts(setup)
    mhz, z_swept = _impedance_over(band, found, soil, cache_dir)
    sweep = _swept(setup, band, mhz, z_swept)
    return FeedWork(
        transformer=transformer.name if transformer else "none",
        line=line.name if line else "none",
        line_m=setup.line_m if line else 0.0,
        tuner=setup.tuner,
        wire_ohm=z_ohm,
        radio_swr=float(chain.radio_swr[0]),
        line_swr=float(chain.line_swr[0]),
        transformer_loss_db=float(chain.transformer_loss_db[0]),
        matched_line_loss_db=float(chain.matched_line_loss_db[0]),
        added_line_loss_db=float(chain.added_line_loss_db[0]),
        mismatch_loss_db=float(chain.mismatch_loss_db[0]),
        wire_power_w=wire_w,
        voltage_v=float(voltage_v(wire_w, z_ohm)),
        current_a=float(current_a(wire_w, z_ohm)),
        sweep=sweep,
        resonance=_resonance(found.hung, found.frequency_mhz, mhz, z_swept),
        best=_best_transformer(setup, line, sweep.wire_ohm, found),
    )


def _impedance_over(
    band: Band, found: BandSolution, soil: Ground, cache_dir: Path | None
) -> tuple[Floats, Complexes]:
    """Frequencies and impedances past both edges of the band, finely spaced."""
    low, high = (1.0 - BEYOND_BAND) * band.low_mhz, (1.0 + BEYOND_BAND) * band.high_mhz
    turn_rad = 4.0 * np.pi * found.hung.length_m * (high - low) / LIGHT_M_MHZ
    count = _LEAST_SOLVED + 2 * int(np.ceil(max(turn_rad - 2.0, 0.0) / _TURN_RAD))
    nodes = np.linspace(low, high, count)
    model = found.hung.model()
    name = identity(
        "sweep", model, nodes.tolist(), found.frequency_mhz, soil.eps_r, soil.sigma_s_m
    )
    stored = fetch(cache_dir, name)
    solved: Complexes | None = None
    if stored is not None:
        with contextlib.suppress(KeyError):
            solved = np.asarray(stored["z_ohm"], dtype=np.complex128)
    if solved is None or solved.shape != nodes.shape:
        solved = impedance_over(model, nodes, soil, found.frequency_mhz, cache_dir)
        keep(cache_dir, name, {"z_ohm": solved})
    fine = np.linspace(low, high, _FINE)
    return fine, impedance_between(nodes, solved, fine)


def impedance_between(
    frequency_mhz: Floats, z_ohm: Complexes, wanted_mhz: Floats
) -> Complexes:
    r"""
    Read an impedance between the frequencies it was solved on.

    Parameters
    ----------
    frequency_mhz : numpy.ndarray
        Shape (N,), rising, an odd number of three or more. [MHz]
    z_ohm : numpy.ndarray
        Shape (N,), with positive resistance. [ohm]
    wanted_mhz : numpy.ndarray
        Shape (M,), within the range. [MHz]

    Returns
    -------
    z_ohm : numpy.ndarray
        Shape (M,). [ohm]

    Notes
    -----
    Through the reflection against the geometric mean of all magnitudes goes the
    rational function of numerator and denominator degree (N - 1)/2, in barycentric
    form: its support points are every other frequency, its weights the null vector of
    the Loewner matrix of those against the rest.

    A. C. Antoulas and B. D. Q. Anderson, "On the scalar rational interpolation
    problem", IMA Journal of Mathematical Control and Information 3, 1986 (from
    memory).

    Examples
    --------
    A series circuit of 50 ohm that resonates on 7 MHz, read where it was not solved:

    >>> mhz = np.linspace(6.8, 7.2, 5)
    >>> circuit = lambda f: 50.0 + 1200j * (f / 7.0 - 7.0 / f)
    >>> wanted = np.array([6.87, 7.05])
    >>> impedance_between(mhz, circuit(mhz), wanted).round(6)
    array([50.-44.993138j, 50.+17.082067j])
    """
    middle = float(np.exp(np.mean(np.log(np.abs(z_ohm)))))
    echo = reflection(z_ohm, middle)
    held, rest = slice(0, None, 2), slice(1, None, 2)
    loewner = (echo[rest, None] - echo[held]) / (
        frequency_mhz[rest, None] - frequency_mhz[held]
    )
    weight = np.linalg.svd(loewner)[2][-1].conj()
    away = wanted_mhz[:, None] - frequency_mhz[held]
    # On a support point itself the function is what was solved.
    hit = away == 0.0
    pull = np.where(hit.any(axis=1)[:, None], hit, weight / np.where(hit, 1.0, away))
    between = (pull @ echo[held]) / pull.sum(axis=1)
    return np.asarray(middle * (1.0 + between) / (1.0 - between), dtype=np.complex128)


def _swept(setup: SetUp, band: Band, mhz: Floats, z_ohm: Complexes) -> Sweep:
    """Cut the band out of a sweep and follow it to the radio."""
    inside = np.linspace(band.low_mhz, band.high_mhz, BAND_POINTS)
    wire = np.interp(inside, mhz, z_ohm)
    return Sweep(inside, wire, chain_for(setup, wire, inside).radio_swr)


def _resonance(
    hung: HungWire, planning_mhz: float, mhz: Floats, z_ohm: Complexes
) -> Resonance:
    """Find the resonance nearest to the planning frequency, and the highest R."""
    found = resonances_mhz(mhz, z_ohm)
    at = np.nan
    if found.size:
        at = float(found[np.argmin(np.abs(found - planning_mhz))])
    top = int(np.argmax(z_ohm.real))
    inside = 0 < top < mhz.size - 1
    add_m = np.nan if np.isnan(at) else float(trim_m(hung.length_m, at, planning_mhz))
    return Resonance(
        frequency_mhz=at,
        resistance_ohm=float(np.interp(at, mhz, z_ohm.real)),
        highest_mhz=float(mhz[top]) if inside else np.nan,
        highest_ohm=float(z_ohm.real[top]) if inside else np.nan,
        add_mm=1e3 * add_m,
        mm_per_khz=hung.length_m / planning_mhz,
    )


def _best_transformer(
    setup: SetUp, line: Line | None, wire_ohm: Complexes, found: BandSolution
) -> OtherTransformer:
    """Choose by the whole band; say what it would give at the planning frequency."""
    choice: Transformer = best_transformer(
        wire_ohm, line.impedance_ohm if line else RADIO_OHM
    )
    chain = feed_chain(
        found.solved.z_ohm,
        found.frequency_mhz,
        choice,
        line,
        setup.line_m if line else 0.0,
        tuner=setup.tuner,
    )
    return OtherTransformer(
        choice.name, float(chain.loss_db[0]), float(chain.radio_swr[0])
    )
