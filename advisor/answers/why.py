"""
Why one figure is what it is: one target, one band, one hour, one set-up, in full.

The figure is the one `advisor.answers.advice` gives for the same question; here the way
to it is laid open line by line. A target of several sample points is shown by its point
of median distance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.answers.advice import Answer, SetUpAdvice, advise
from advisor.answers.ask import answer
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.perturb import Change, assume, case_of, other_setup, what_if
from advisor.answers.states import OPEN, STATES, states
from advisor.answers.through import through_shares
from advisor.answers.why_facts import (
    GROUND_WAVE_NAME,
    Budget,
    Chances,
    ControlPoint,
    MiddleLayers,
    ModeFacts,
    NoisePart,
    Why,
)
from advisor.answers.words import limit_words
from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance, mode_chances, ratio_spread_db
from advisor.engine.engine import GROUND_RECEIVE_DB, link_for, wire_gains
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import median_point, over_targets, point_of, strengths
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.propagation.losses import LOSSES
from advisor.propagation.mode_axis import MODES, NO_MODE_DB, SCATTER, WEAK, mode_name
from advisor.propagation.muf import with_map_error
from advisor.propagation.noise import KT0_DBW_HZ
from advisor.propagation.noise_sources import noise_sources
from advisor.reliability.chance import reliability
from advisor.station.emissions import REFERENCE_BANDWIDTH_HZ
from geo.errors import InputError
from geo.fields import LEFT_OUT
from geo.magnetic import decimal_year_of, declination_deg
from geo.paths import (
    FAR_END,
    FAR_QUARTER,
    MID,
    NEAR_END,
    NEAR_QUARTER,
    STATIONS,
)

STRONGEST = 3
"""How many modes are summed line by line, most chance first."""

_LOOKED_AHEAD_H = 24
"""How far ahead the next opening of a shut band is looked for. [h]"""

_LEAST_SHARE = 0.01
"""Least share of the signal, or chance by itself, at which a mode is summed."""

_REFERENCE_DB = 10.0 * np.log10(REFERENCE_BANDWIDTH_HZ)
"""Noise in the reference bandwidth over noise in one hertz. [dB]"""

_CONTROL_NAMES = {
    NEAR_END: "my end",
    NEAR_QUARTER: "quarter of the way",
    MID: "middle",
    FAR_QUARTER: "three quarters of the way",
    FAR_END: "far end",
}


@dataclass(frozen=True)
class _Cell:
    """One point, hour, band and set-up: both halves of the link."""

    question: Question
    advice: Answer
    link: Link
    gains: Gains
    pattern: Pattern
    flat: Gains | None

    @property
    def is_heard_worse(self) -> bool:
        """Whether the far end's copying me has less to spare."""
        heard = self.link.heard_db - self.link.far.efficiency_db
        return bool((heard <= self.link.hear_db - self.gains.efficiency_db).item())

    @property
    def receiving_efficiency_db(self) -> float:
        """Efficiency of the antenna that receives in the worse direction, in dB."""
        receiving = self.link.far if self.is_heard_worse else self.gains
        return float(receiving.efficiency_db[0])


def explain_chance(
    question: Question,
    setup_names: Iterable[str] = (),
    cache_dir: Path | None = None,
) -> Why:
    """
    Lay one figure open.

    Parameters
    ----------
    question : Question
        One target, one hour and one band.
    setup_names : iterable of str, optional
        Set-ups of the station to choose from; none means all. The best of them is
        shown, the station's others count as what could be changed.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    why : Why
        Every number on the way to the chance.

    Raises
    ------
    InputError
        If there is more than one target, hour or band, or no such set-up works on
        the band.
    """
    for what, count in (
        ("target", len(question.targets)),
        ("hour", question.times.size),
        ("band", len(question.bands)),
    ):
        if count != 1:
            raise InputError(f"{count} {what}s to explain: name one {what}")
    station = question.station
    picked = tuple(setup_names) or tuple(setup.name for setup in station.setups)
    _refuse_other_bands(question, picked)
    patterns = {
        setup.name: patterns_of(setup, question, cache_dir) for setup in station.setups
    }
    far = far_end_patterns(station.far_end, question.bands, cache_dir)
    advice = advise(question, patterns, far, cache_dir)
    setup = next(s for s in advice.setups if s.name in picked and s.works[0])
    cell = _cell(question, setup, patterns[setup.name], far, cache_dir)
    tried = _changes(question, advice, setup, patterns, cache_dir)
    told = _told(question, advice, setup, cell, tried)
    if told.whole.state == STATES[OPEN]:
        return told
    return _with_opening(told, question, setup, patterns[setup.name], far, cache_dir)


def _with_opening(
    told: Why,
    question: Question,
    setup: SetUpAdvice,
    patterns: Mapping[str, Pattern],
    far: Mapping[str, Pattern],
    cache_dir: Path | None,
) -> Why:
    """Find the hour in which the band opens next, the wire hung the same."""
    hours = question.times[0] + np.arange(1, _LOOKED_AHEAD_H + 1).astype("m8[h]")
    later = replace(question, times=hours)
    link = link_for(later, later.solar.r12, far, cache_dir=cache_dir)
    gains = wire_gains(later, link, patterns, setup.bearing.wire_deg or 0.0)
    chance = over_targets(later, contact_chance(link, gains).both[0])[0, :, 0]
    opens = np.flatnonzero(chance >= OPEN_CHANCE)
    if not opens.size:
        return told
    first = int(opens[0])
    return replace(
        told,
        opens_utc=f"{hours[first].astype('datetime64[m]')}Z",
        opens_chance=float(chance[first]),
    )


def best_band_name(question: Question, setup_names: Iterable[str] = ()) -> str:
    """
    Find the band with the best chance on any of some set-ups.

    Parameters
    ----------
    question : Question
        One target and one hour; all bands to choose from.
    setup_names : iterable of str, optional
        Set-ups to choose from; none means all.

    Returns
    -------
    name : str
        The band; the lowest of those alike. Where none is open that which lacks least
        signal.
    """
    allowed = tuple(setup_names)
    found = answer(question)
    picked = tuple(
        setup for setup in found.setups if not allowed or setup.name in allowed
    )
    found = replace(found, setups=picked)
    chance, state = found.best.chance[0, 0], found.states[0, 0]
    if chance.max() < OPEN_CHANCE:
        margin_db = np.nan_to_num(found.best.margin_db[0, 0], nan=-1e4)
        chance = np.where(state == state.min(), margin_db, -np.inf)
    return question.bands[int(chance.argmax())].name


def _refuse_other_bands(question: Question, names: Iterable[str]) -> None:
    """Refuse a band that none of the set-ups named is cut for, before any work."""
    band = question.bands[0].name
    wires = [one for one in question.station.setups if one.name in names]
    if not any(band in one.bands for one in wires):
        cut_for = "; ".join(f"{one.name}: {', '.join(one.bands)}" for one in wires)
        raise InputError(f"no set-up is cut for {band} ({cut_for})")


def _cell(
    question: Question,
    setup: SetUpAdvice,
    patterns: Mapping[str, Pattern],
    far: Mapping[str, Pattern],
    cache_dir: Path | None,
) -> _Cell:
    """Narrow the question down to one point with the wire hung."""
    here, target = question.place, question.targets[0]
    point = median_point(target, here.lat_deg, here.lon_deg)
    wire = next(one for one in question.station.setups if one.name == setup.name)
    hung = replace(wire, bearing_deg=setup.bearing.wire_deg)
    narrow = replace(
        question,
        station=replace(question.station, setups=(hung,)),
        targets=(point_of(target, point),),
    )
    index = narrow.solar.r12
    link = link_for(narrow, index, far, own_way=True, cache_dir=cache_dir)
    worked = setup.bearing.wire_deg or 0.0
    flat = replace(narrow, station=replace(narrow.station, hills=None))
    return _Cell(
        narrow,
        advise(narrow, {wire.name: patterns}, far, cache_dir),
        link,
        wire_gains(narrow, link, patterns, worked),
        patterns[question.bands[0].name],
        wire_gains(flat, link, patterns, worked) if narrow.station.hills else None,
    )


def _changes(
    question: Question,
    advice: Answer,
    setup: SetUpAdvice,
    patterns: Mapping[str, Mapping[str, Pattern]],
    cache_dir: Path | None,
) -> tuple[Change, ...]:
    """Try what would change the chance of the whole target."""
    wire = next(one for one in question.station.setups if one.name == setup.name)
    others = (
        other_setup(other.name, patterns[other.name], other.bearing.wire_deg)
        for other in advice.setups
        if other is not setup and other.works[0]
    )
    here = assume(question, cache_dir=cache_dir)
    now = case_of(here, patterns[setup.name], setup.bearing.wire_deg)
    return what_if(now, wire, setup.bearing, others, cache_dir)


def _told(
    question: Question,
    advice: Answer,
    setup: SetUpAdvice,
    cell: _Cell,
    tried: tuple[Change, ...],
) -> Why:
    """Put every part together."""
    paths, link = cell.link.paths, cell.link
    band, peak = question.bands[0], cell.pattern.peak()
    here = _chances(cell.advice, cell.advice.setups[0])
    upper, lower = (
        float(side.item()) for side in ratio_spread_db(link, heard=cell.is_heard_worse)
    )
    bearing, back = float(paths.bearing_deg[0]), float(paths.far_bearing_deg[0])
    near_pole, far_pole = (_declination(cell, end) for end in (NEAR_END, FAR_END))
    modes = mode_facts(cell.link, cell.gains)
    return Why(
        target=question.targets[0].name,
        points=question.targets[0].weight.size,
        setup=setup.name,
        band=band.name,
        frequency_mhz=band.planning_mhz,
        utc=f"{question.times[0].astype('datetime64[m]')}Z",
        wire_deg=setup.bearing.wire_deg,
        best_deg=setup.bearing.best_deg,
        is_free=setup.bearing.is_free,
        first_end=setup.first_end,
        peak_dbi=peak.gain_dbi,
        peak_takeoff_deg=peak.takeoff_deg,
        whole=_chances(advice, setup),
        here=here,
        lat_deg=float(paths.lat_deg[0]),
        lon_deg=float(paths.lon_deg[0]),
        distance_km=float(paths.distance_km[0]),
        is_long_path=question.long_path,
        bearing_deg=bearing,
        far_bearing_deg=back,
        magnetic_bearing_deg=(bearing - near_pole) % 360.0,
        far_magnetic_bearing_deg=(back - far_pole) % 360.0,
        control_points=_control_points(cell),
        layers=_middle(cell),
        modes=tuple(facts for _, facts in modes),
        direction="heard" if cell.is_heard_worse else "hear",
        budgets=_budgets(cell, modes),
        noise=_noise_parts(cell),
        receiving_efficiency_db=cell.receiving_efficiency_db,
        spread_upper_db=upper,
        spread_lower_db=lower,
        reliability=float(reliability(here.margin_db, upper, lower)),
        changes=tried,
    )


def _chances(advice: Answer, setup: SetUpAdvice) -> Chances:
    """Read the one figure of an answer with what goes with it."""
    cell = 0, 0, 0
    return Chances(
        chance=float(setup.chance[cell]),
        chance_heard=float(setup.heard[cell]),
        chance_hear=float(setup.hear[cell]),
        chance_low=float(setup.chance_low[cell]),
        chance_high=float(setup.chance_high[cell]),
        margin_db=float(setup.margin_db[cell]),
        path_support=float(advice.targets[0].support[0, 0]),
        state=STATES[int(states(advice.question, advice.halves.link, setup)[cell])],
        limit=limit_words(advice, setup, 0, 0, 0),
        chance_month=LEFT_OUT
        if advice.question.heard is None
        else float(setup.chance_month[cell]),
    )


def _declination(cell: _Cell, end: int) -> float:
    """Magnetic declination at one end, east positive, in degrees."""
    paths = cell.link.paths
    lat, lon = paths.control_lat_deg[0, end], paths.control_lon_deg[0, end]
    year = float(decimal_year_of(cell.question.times)[0])
    return float(declination_deg(lat, lon, 0.0, year))


def _control_points(cell: _Cell) -> tuple[ControlPoint, ...]:
    """Places where layers are read for this path, from my end to the far end."""
    paths, layers = cell.link.paths, cell.link.layers
    lat, lon = paths.control_lat_deg[0], paths.control_lon_deg[0]
    length = float(paths.distance_km[0])
    return tuple(
        ControlPoint(
            name=name,
            along_km=length * point / (STATIONS - 1),
            lat_deg=float(lat[point]),
            lon_deg=float(lon[point]),
            local_hour=float(layers.local_hour[0, point]),
            sun_elevation_deg=float(90.0 - layers.zenith_deg[0, point]),
        )
        for point, name in _CONTROL_NAMES.items()
    )


def _middle(cell: _Cell) -> MiddleLayers:
    """Layers over the middle of the path."""
    layers, middle = cell.link.layers, (0, MID)
    median = float(layers.fof2_mhz[middle])
    lower_ratio, upper_ratio = with_map_error(
        layers.fof2_lower_ratio[middle],
        layers.fof2_upper_ratio[middle],
        layers.unsounded[middle],
    )
    return MiddleLayers(
        foe_mhz=float(layers.foe_mhz[middle]),
        fof1_mhz=float(layers.fof1_mhz[middle]),
        fof2_lower_mhz=median * float(lower_ratio),
        fof2_mhz=median,
        fof2_upper_mhz=median * float(upper_ratio),
        hmf2_km=float(layers.hmf2_km[middle]),
        m3000f2=float(layers.m3000f2[middle]),
        foes_lower_mhz=float(layers.foes_lower_mhz[middle]),
        foes_mhz=float(layers.foes_mhz[middle]),
        foes_upper_mhz=float(layers.foes_upper_mhz[middle]),
    )


def mode_facts(
    link: Link, gains: Gains, path: int = 0, hour: int = 0, band: int = 0
) -> list[tuple[int, ModeFacts]]:
    """
    List every hop mode that the geometry allows, with its place on the mode axis.

    Parameters
    ----------
    link : Link
        The sky's half.
    gains : Gains
        The wire's gains at one bearing.
    path, hour, band : int, optional
        Where to look.

    Returns
    -------
    modes : list of (int, ModeFacts)
        Those of which a ray comes down there.
    """
    modes, cell = link.modes, (path, hour, band)
    level = np.minimum(
        link.heard_db - link.far.efficiency_db, link.hear_db - gains.efficiency_db
    )[cell]
    both = gains.hop_db[0][cell] + link.far.hop_db[cell]
    margin = both - modes.loss_db[cell] + level
    offered = strengths(modes.mean_power[cell], link.far.hop_db[cell])
    share = through_shares(offered, gains.hop_db[0][cell])
    alone = mode_chances(link, gains)[cell]
    above = np.full(MODES, np.nan)
    above[WEAK] = _above_middle_db(modes.above_db[cell])
    return [
        (
            m,
            ModeFacts(
                name=mode_name(m, int(modes.hops[cell][m])),
                hops=int(modes.hops[cell][m]),
                takeoff_deg=float(modes.takeoff_deg[cell][m]),
                landing_deg=float(modes.landing_deg[cell][m]),
                height_km=float(modes.height_km[cell][m]),
                muf_mhz=float(modes.muf_mhz[cell][m]),
                support=float(modes.returned[cell][m]),
                above_db=float(above[m]),
                is_clear=bool(modes.clear[cell][m]),
                margin_db=float(margin[m]),
                chance=float(alone[m]),
                share=float(share[m]),
            ),
        )
        for m in range(MODES)
        if np.isfinite(modes.takeoff_deg[cell][m])
        and np.isfinite(modes.muf_mhz[cell][m])
    ]


def _above_middle_db(above_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """Loss above the MUF on the middle day, (L,) of slices (L, V)."""
    middle = above_db.shape[-1] // 2
    two = above_db[..., middle - 1 : middle + 1]
    return np.asarray(np.where(two < NO_MODE_DB, two, 0.0).mean(axis=-1))


def _budgets(cell: _Cell, modes: list[tuple[int, ModeFacts]]) -> tuple[Budget, ...]:
    """
    Sum up the modes with most chance, then the ground wave.

    Where no mode has any, the strongest count, and where none gets through, of those
    above the horizon that with the highest MUF, to show what is there to win.
    """
    ranked = sorted(modes, key=lambda pair: (-pair[1].chance, -pair[1].share))
    strongest = [
        m for m, facts in ranked if max(facts.share, facts.chance) >= _LEAST_SHARE
    ][:STRONGEST]
    if not strongest:
        known = [(m, facts) for m, facts in modes if m != SCATTER and facts.is_clear]
        strongest = [m for m, _ in sorted(known, key=lambda p: -p[1].muf_mhz)[:1]]
    found = [_mode_budget(cell, m) for m in strongest]
    if np.isfinite(cell.link.ground_loss_db[0, 0]):
        found.append(_ground_budget(cell))
    return tuple(found)


def _mode_budget(cell: _Cell, mode: int) -> Budget:
    """Sum of one hop mode."""
    modes, place = cell.link.modes, (0, 0, 0, mode)
    return _budget(
        cell,
        mode_name(mode, int(modes.hops[place])),
        float(cell.gains.hop_db[0][place]),
        float(cell.link.far.hop_db[place]),
        {name: float(each[place]) for name, each in modes.losses_db.items()},
        float(modes.loss_db[place]),
        float(cell.flat.hop_db[0][place]) if cell.flat else np.nan,
    )


def _ground_budget(cell: _Cell) -> Budget:
    """Sum of the ground wave."""
    return _budget(
        cell,
        GROUND_WAVE_NAME,
        float(cell.gains.ground_db[0, 0, 0]),
        float(cell.link.far.ground_db[0, 0] - GROUND_RECEIVE_DB),
        dict.fromkeys(LOSSES, np.nan),
        float(cell.link.ground_loss_db[0, 0]),
    )


def _budget(
    cell: _Cell,
    way: str,
    gain_dbi: float,
    far_gain_dbi: float,
    losses_db: dict[str, float],
    loss_db: float,
    flat_dbi: float = np.nan,
) -> Budget:
    """Sum of one way in the worse direction."""
    station, link = cell.question.station, cell.link
    heard = cell.is_heard_worse
    power = station.power_w if heard else station.far_end.power_w
    noise = link.noise_far if heard else link.noise_here
    power_dbw = float(10.0 * np.log10(power))
    received = power_dbw + gain_dbi + far_gain_dbi - loss_db
    noise_dbw = (
        KT0_DBW_HZ
        + float(noise.factor_db.item())
        + cell.receiving_efficiency_db
        + float(_REFERENCE_DB)
    )
    needed = cell.question.emission.snr_in_db()
    levels = dict(station.setups[0].level_db)
    learned_db = levels.get(cell.question.bands[0].name, LEFT_OUT)
    return Budget(
        way=way,
        power_dbw=power_dbw,
        gain_dbi=gain_dbi,
        below_peak_db=cell.pattern.peak().gain_dbi - gain_dbi,
        far_gain_dbi=far_gain_dbi,
        losses_db={f"{name}_db": loss for name, loss in losses_db.items()},
        loss_db=loss_db,
        received_dbw=received,
        noise_dbw=noise_dbw,
        snr_db=received - noise_dbw,
        needed_snr_db=needed,
        margin_db=received - noise_dbw - needed,
        hill_db=gain_dbi - flat_dbi if cell.flat else LEFT_OUT,
        learned_db=learned_db,
        far_learned_db=station.learned.far_end_db or LEFT_OUT,
    )


def _noise_parts(cell: _Cell) -> tuple[NoisePart, ...]:
    """Noise at the end that limits, source by source, then together."""
    station, heard = cell.question.station, cell.is_heard_worse
    sources = noise_sources(
        cell.question.frequency_mhz,
        cell.link.layers,
        FAR_END if heard else NEAR_END,
        station.far_end.noise if heard else station.noise,
        0.0 if heard else station.noise_trim_db,
        0.0 if heard else station.learned_noise_db(cell.question.frequency_mhz),
    )
    return tuple(
        NoisePart(
            name,
            *(
                float(np.where(np.isinf(value), np.nan, value).item())
                for value in (noise.factor_db, noise.upper_db, noise.lower_db)
            ),
        )
        for name, noise in sources.items()
    )
