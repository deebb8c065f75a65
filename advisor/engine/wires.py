"""
What a set-up radiates on each band: wires hung, currents solved, feed followed.

This is where the records of a station file meet the wire solver. A set-up is solved
once per band with its bearing at zero; turning it is left to the engine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.closedform import dipole_pattern, isotropic_pattern, wavelength_m
from advisor.antenna.earthed import earthed_pattern
from advisor.antenna.feed import (
    FeedChain,
    Transformer,
    feed_chain,
    transformer_by_name,
)
from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.hills import hills_of
from advisor.antenna.line import Line, line_by_name
from advisor.antenna.materials import metals, plastics
from advisor.antenna.pattern import Centre, Pattern, standard_grid
from advisor.antenna.shapes.earth import with_earth
from advisor.antenna.shapes.feedline import with_line
from advisor.antenna.shapes.parts import Conductor, HungWire
from advisor.antenna.shapes.registry import SHAPES, hang
from advisor.antenna.solver.cache import SolvedWire, solve_wire
from advisor.engine.question import Question
from advisor.station.bands import Band
from advisor.station.setup import SetUp, lowest_mhz, sizes_on
from advisor.station.station import FAR_END_KINDS, FarEnd
from geo.arrays import Floats
from geo.errors import InputError
from geo.tables import read_table
from geo.terrain import Terrain

FAR_END_GROUND = "average"
"""Ground assumed under the far end's antenna."""

FAR_END_HIGHEST_M = 12.0
"""Height of the far end's dipole where half a wavelength is more than a station
usually has (common practice, no source). [m]"""

FAR_POWER_SIGMA_DB = 3.5
"""How the power of stations of a kind differs (a survey of operators gives 5 dB over
all of them; within a kind assumed). [dB]"""


def assumed_pattern(frequency_mhz: float, ground: Ground) -> Pattern:
    """
    Pattern of a wire that nobody described: a dipole.

    Parameters
    ----------
    frequency_mhz : float
        Frequency. [MHz]
    ground : Ground
        Soil below it.

    Returns
    -------
    pattern : Pattern
        Half a wave up, at most `FAR_END_HIGHEST_M`.
    """
    height_m = min(0.5 * wavelength_m(frequency_mhz), FAR_END_HIGHEST_M)
    return dipole_pattern(frequency_mhz, height_m, ground)


FAR_END_PATTERNS: dict[str, Callable[[float, Ground], Pattern]] = {
    "dipole": assumed_pattern,
    "isotropic": lambda mhz, _: isotropic_pattern(mhz),
    "vertical": earthed_pattern,
    "modest": lambda mhz, _: _median_pattern("modest", mhz),
    "usual": lambda mhz, _: _median_pattern("usual", mhz),
    "big": lambda mhz, _: _median_pattern("big", mhz),
}
"""How the far end's pattern is found: frequency in MHz, ground."""

_NOTHING = "none"

# Solutions are kept while a program runs: commands ask for the same wire again. Each
# takes about 2 MB.
_KEPT = 48


@dataclass(frozen=True, eq=False)
class BandSolution:
    """
    A set-up on one band.

    Attributes
    ----------
    frequency_mhz : float
        Frequency solved for. [MHz]
    hung : HungWire
        Wires, feedpoint and supports.
    solved : SolvedWire
        Impedance, sky pattern and losses of the wire itself.
    chain : FeedChain
        The way from the wire to the radio, arrays of one frequency.
    pattern : Pattern
        Sky pattern for power from the radio: transformer, line and mismatch are in
        it.
    learned_db : float
        What a log taught of its level, in that pattern. [dB]
    """

    frequency_mhz: float
    hung: HungWire
    solved: SolvedWire
    chain: FeedChain
    pattern: Pattern
    learned_db: float = 0.0

    @property
    def wire(self) -> Pattern:
        """Sky pattern for power into the wire."""
        return self.solved.pattern

    def raised_by(self, more_db: float) -> BandSolution:
        """
        Send more than works out: its gain and its losses change, not what it hears.

        Parameters
        ----------
        more_db : float
            How much more. [dB]

        Returns
        -------
        solution : BandSolution
            The same with that in its pattern.
        """
        raised = self.pattern.weakened_by(-more_db)
        return replace(self, pattern=raised, learned_db=more_db)


def solve_setup(
    setup: SetUp,
    bands: Iterable[Band],
    ground: str,
    cache_dir: Path | None = None,
    terrain: Terrain | None = None,
) -> dict[str, BandSolution]:
    """
    Solve a set-up on every band it is used on.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    bands : iterable of Band
        Bands asked about.
    ground : str
        Name of the ground under it.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.
    terrain : Terrain, optional
        Ground around it; what it makes of the wire is worked out too, and kept.

    Returns
    -------
    solutions : dict of str to BandSolution
        By band name, over flat ground; bands the set-up is not used on are left out.

    Raises
    ------
    geo.errors.InputError
        If the set-up cannot be hung or solved.
    """
    soil = ground_by_name(ground)
    solutions = {
        band.name: solve_at(setup, band.planning_mhz, soil, cache_dir)
        for band in bands
        if band.name in setup.bands
    }
    for band, more_db in setup.level_db:
        if band in solutions:
            solutions[band] = solutions[band].raised_by(more_db)
    if terrain is not None:
        for each in solutions.values():
            hills_of(terrain, each.pattern, soil, cache_dir)
    return solutions


def patterns_of(
    setup: SetUp, question: Question, cache_dir: Path | None = None
) -> dict[str, Pattern]:
    """
    Work out the patterns of a set-up on the bands of a question.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    question : Question
        Holds the bands and the ground.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    patterns : dict of str to Pattern
        By band name; bands it is not used on are left out.
    """
    station = question.station
    solved = solve_setup(
        setup, question.bands, station.ground, cache_dir, station.hills
    )
    return {band: one.pattern for band, one in solved.items()}


def gain_over_hills(
    question: Question,
    pattern: Pattern,
    takeoff_deg: ArrayLike,
    azimuth_deg: ArrayLike,
    bearing_deg: ArrayLike,
) -> Floats:
    """
    Look a pattern up over the station's own ground, as every sum has it.

    Parameters
    ----------
    question : Question
        Holds the ground.
    pattern : Pattern
        Over flat ground, on the standard elevations.
    takeoff_deg : array_like
        Elevation, 0 to 90. [deg]
    azimuth_deg : array_like
        Direction from the wire's bearing. [deg]
    bearing_deg : array_like
        The same direction from true north. [deg]

    Returns
    -------
    gain : numpy.ndarray
        Ratio over isotropic, not below 0.
    """
    gain, station = pattern.gain(takeoff_deg, azimuth_deg), question.station
    if station.hills is None:
        return gain
    hills = hills_of(station.hills, pattern, ground_by_name(station.ground))
    more = hills.more(pattern, takeoff_deg, azimuth_deg, bearing_deg)
    return np.asarray(np.maximum(gain + more, 0.0))


@lru_cache(maxsize=_KEPT)
def solve_at(
    setup: SetUp, frequency_mhz: float, ground: Ground, cache_dir: Path | None = None
) -> BandSolution:
    """
    Solve a set-up on one frequency, once while a program runs.

    Parameters
    ----------
    setup, frequency_mhz, ground, cache_dir
        See `solve_once`.

    Returns
    -------
    solution : BandSolution
        Wires, currents, pattern and feed.
    """
    return solve_once(setup, frequency_mhz, ground, cache_dir)


def solve_once(
    setup: SetUp,
    frequency_mhz: float,
    ground: Ground,
    cache_dir: Path | None = None,
    *,
    is_kept: bool = True,
) -> BandSolution:
    """
    Solve a set-up on one frequency and remember nothing while the program runs.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    frequency_mhz : float
        Frequency. [MHz]
    ground : Ground
        The ground under it.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.
    is_kept : bool, optional
        Whether it keeps this wire there.

    Returns
    -------
    solution : BandSolution
        Wires, currents, pattern and feed.
    """
    hung = hung_wire(setup, frequency_mhz)
    solved = solve_wire(hung.model(), frequency_mhz, ground, cache_dir, is_kept=is_kept)
    return _fed(setup, frequency_mhz, hung, solved)


def hung_wire(setup: SetUp, frequency_mhz: float) -> HungWire:
    """
    Hang a set-up as it is cut for a frequency.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    frequency_mhz : float
        Frequency, which sets the lengths if the wire is cut for each band. [MHz]

    Returns
    -------
    hung : HungWire
        Wires, feedpoint and supports.

    Raises
    ------
    geo.errors.InputError
        If it does not fit.
    """
    sizes, is_on_rest = sizes_on(setup, frequency_mhz)
    hung = hang(
        setup.shape,
        lowest_mhz(setup, frequency_mhz),
        sizes,
        points_m=setup.points_m,
        conductor=Conductor(
            radius_m=0.5e-3 * setup.wire_mm,
            conductivity_s_m=metals()[setup.metal],
            insulation_m=1e-3 * setup.insulation_mm,
            insulation_eps_r=plastics()[setup.plastic] if setup.insulation_mm else 1.0,
        ),
    )
    if is_on_rest:
        tops_m = [support.height_m for support in hung.supports]
        low = tuple(s.name for s in hung.supports if s.height_m < max(tops_m))
        hung = replace(hung, on_rest=low)
    for at_m, inductance_uh, q in setup.coils:
        hung = hung.loaded(at_m, inductance_h=1e-6 * inductance_uh, q=q)
    for at_m, inductance_uh, capacitance_pf, q in setup.traps:
        inductance_h, capacitance_f = 1e-6 * inductance_uh, 1e-12 * capacitance_pf
        hung = hung.loaded(
            at_m,
            inductance_h=inductance_h,
            capacitance_f=capacitance_f,
            q=q,
            kind="trap",
        )
    for at_m, resistance_ohm in setup.resistors:
        hung = hung.loaded(at_m, resistance_ohm=resistance_ohm)
    if setup.radials_at_m is not None or setup.stake_m:
        hung = with_earth(hung, setup.radials_at_m, setup.stake_m)
    if setup.choke_ohm is None:
        return hung
    line = feed_parts(setup)[1]
    if line is None or not line.is_coaxial or not setup.line_m:
        raise InputError(
            "choke_ohm is for the outside of a coaxial line: give one of those and its "
            "length, or leave the choke out"
        )
    if setup.choke_at_m > setup.line_m:
        raise InputError(
            f"a choke {setup.choke_at_m:g} m along a line of {setup.line_m:g} m; put "
            "it on the line"
        )
    return with_line(
        hung, setup.line_m, setup.line_away_deg, setup.choke_ohm, setup.choke_at_m
    )


def chain_for(setup: SetUp, z_ohm: object, frequency_mhz: object) -> FeedChain:
    """
    Follow the power from radio to wire through a set-up's feed.

    Parameters
    ----------
    setup : SetUp
        Holds transformer, line and tuner; those left open are the usual ones of its
        shape.
    z_ohm : array_like
        Impedance at the wire. [ohm]
    frequency_mhz : array_like
        Frequency. [MHz]

    Returns
    -------
    chain : FeedChain
        Impedance, SWR and loss at each step.
    """
    transformer, line = feed_parts(setup)
    return feed_chain(
        z_ohm,  # type: ignore[arg-type]
        frequency_mhz,  # type: ignore[arg-type]
        transformer,
        line,
        setup.line_m if line else 0.0,
        tuner=setup.tuner,
    )


def feed_parts(setup: SetUp) -> tuple[Transformer | None, Line | None]:
    """
    Look up what is between a set-up's wire and the radio.

    Parameters
    ----------
    setup : SetUp
        What it leaves open is the usual of its shape.

    Returns
    -------
    transformer : Transformer or None
        None if there is none.
    line : Line or None
        Likewise.
    """
    usual = SHAPES[setup.shape]
    transformer = setup.transformer or usual.transformer
    line = setup.line or usual.line
    return (
        None if transformer == _NOTHING else transformer_by_name(transformer),
        None if line == _NOTHING else line_by_name(line),
    )


def _fed(
    setup: SetUp, frequency_mhz: float, hung: HungWire, solved: SolvedWire
) -> BandSolution:
    """Put the feed before a wire."""
    chain = chain_for(setup, solved.z_ohm, frequency_mhz)
    fed = solved.pattern.weakened_by(float(chain.loss_db[0]))
    fed = replace(fed, centre=_centre(hung))
    return BandSolution(frequency_mhz, hung, solved, chain, fed)


def _centre(hung: HungWire) -> Centre:
    """Say from how high a wire radiates."""
    ends = np.array([[wire.start_m, wire.end_m] for wire in hung.own_wires])
    across = ends[:, 1] - ends[:, 0]
    along, up = np.hypot(across[:, 0], across[:, 1]), np.abs(across[:, 2])
    middle = ends[:, :, 2].mean(axis=1)
    whole = float(np.average(middle, weights=along + up))
    return Centre(
        float(np.average(middle, weights=up)) if up.any() else whole,
        float(np.average(middle, weights=along)) if along.any() else whole,
        is_level=bool(along.sum() > up.sum()),
    )


def _mixed(kind: str, frequency_mhz: ArrayLike) -> dict[str, Floats]:
    """Columns of the table of far ends on any frequencies, (B,) each."""
    table = read_table("far_ends")
    rows = np.flatnonzero(np.array(table.columns["kind"]) == kind)
    log_f = np.log(np.atleast_1d(np.asarray(frequency_mhz, dtype=float)))
    nodes = np.log(table.numbers("frequency_mhz")[rows])
    return {
        name: np.interp(log_f, nodes, table.numbers(name)[rows])
        for name in table.columns
        if name not in ("kind", "frequency_mhz")
    }


def _median_pattern(kind: str, mhz: float) -> Pattern:
    """Pattern, the same all round, of the median station of a kind."""
    columns = _mixed(kind, mhz)
    gains = {
        float(name.split("_")[1]): value.item()
        for name, value in columns.items()
        if name.endswith("_dbi")
    }
    elevation, azimuth = standard_grid(azimuth_step_deg=180.0)
    power = 10.0 ** (0.1 * np.interp(elevation, list(gains), list(gains.values())))
    power[0] = 0.0
    around = np.broadcast_to(power[:, None], (elevation.size, azimuth.size))
    upright = columns["upright_share"].item()
    efficiency = 10.0 ** (0.1 * columns["efficiency_db"].item())
    return Pattern(
        elevation, azimuth, upright * around, (1.0 - upright) * around, efficiency, mhz
    )


def far_end_sigmas_db(
    far_end: FarEnd, frequency_mhz: ArrayLike
) -> tuple[Floats, Floats]:
    """
    Say how stations of the far end's kind differ from one to the next.

    Parameters
    ----------
    far_end : FarEnd
        The assumption.
    frequency_mhz : array_like
        Shape (B,). [MHz]

    Returns
    -------
    heard_db, hear_db : numpy.ndarray
        Shape (B,), standard deviations: of the antenna as it hears me, its own losses
        taking noise and signal alike, and of what it sends, power and gain. 0 where one
        antenna is named. The noise there differs besides. [dB]
    """
    if far_end.antenna not in FAR_END_KINDS:
        nothing = np.zeros(np.atleast_1d(np.asarray(frequency_mhz)).shape)
        return nothing, nothing
    columns = _mixed(far_end.antenna, frequency_mhz)
    sent = np.hypot(columns["gain_sigma_db"], FAR_POWER_SIGMA_DB)
    return columns["directivity_sigma_db"], sent


def far_end_patterns(
    far_end: FarEnd, bands: Iterable[Band], cache_dir: Path | None = None
) -> dict[str, Pattern]:
    """
    Work out the pattern of what is assumed at the far end on every band.

    Parameters
    ----------
    far_end : FarEnd
        The assumption: the median of a mix, a half-wave dipole half a wavelength up
        but no higher than 12 m, an isotropic radiator, a quarter-wave vertical, or one
        of my set-ups over average ground.
    bands : iterable of Band
        Bands asked about.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    patterns : dict of str to Pattern
        By band name.
    """
    wire = far_end.wire
    return {
        band.name: far_end_pattern(far_end, band.planning_mhz, cache_dir)
        if wire is None or band.name in wire.bands
        else _silent(band.planning_mhz)
        for band in bands
    }


def far_end_pattern(
    far_end: FarEnd, frequency_mhz: float, cache_dir: Path | None = None
) -> Pattern:
    """
    Work out the pattern of what is assumed at the far end on one frequency.

    Parameters
    ----------
    far_end, cache_dir
        See `far_end_patterns`.
    frequency_mhz : float
        Frequency. [MHz]

    Returns
    -------
    pattern : Pattern
        Over `FAR_END_GROUND`.
    """
    soil = ground_by_name(FAR_END_GROUND)
    if far_end.wire is not None:
        return solve_at(far_end.wire, frequency_mhz, soil, cache_dir).pattern
    return FAR_END_PATTERNS[far_end.antenna](frequency_mhz, soil)


def _silent(frequency_mhz: float) -> Pattern:
    """Pattern of a wire on a frequency it is not used on."""
    whole = isotropic_pattern(frequency_mhz)
    none = np.zeros(whole.vertical.shape)
    return replace(whole, vertical=none, horizontal=none)
