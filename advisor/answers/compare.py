"""
Set-ups side by side on one question, against two yardsticks, and why one wins.

The chances are those of `advisor.answers.advice`. The yardsticks are textbook antennas
over the same ground without feed loss: a quarter-wave vertical over radials in the
grass, and a half-wave dipole as high as the set-up's top, turned as suits it best.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.best import best_bands
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.low_wires import folded_cautions
from advisor.answers.perturb import Assumed
from advisor.answers.through import gives_dbi
from advisor.answers.uncertainty import LEAST_DIFFERENCE, spread_words, variants
from advisor.antenna.closedform import dipole_pattern
from advisor.antenna.earthed import earthed_pattern
from advisor.antenna.ground import ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance
from advisor.engine.engine import wire_gains
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.engine.wires import BandSolution, patterns_of, solve_setup
from advisor.station.cautions import Caution
from geo.arrays import Bools, Floats, Ints
from geo.fields import record
from geo.records import ArrayRecord

DIPOLE_STEP_DEG = 15.0
"""Step in which the reference dipole is turned. [deg]"""

Solved = Mapping[str, BandSolution]


class SetUpCompared(ArrayRecord):
    """
    One set-up against the yardsticks, arrays over K targets, T hours and B bands.

    Attributes
    ----------
    advice : SetUpAdvice
        Bearing, chances and margins.
    score_low, score_high : float
        Range of the mean chance under other assumptions.
    best_band : numpy.ndarray of int
        Shape (K, T): best band each hour, with few changes; -1 where all are closed.
    top_m : numpy.ndarray
        Shape (B,), height of the highest point; NaN on bands it does not work on. [m]
    efficiency_db : numpy.ndarray
        Shape (B,), power that reaches the sky over power into the wire. [dB]
    feed_loss_db : numpy.ndarray
        Shape (B,), loss from the radio to the wire. [dB]
    over_vertical_db, over_dipole_db : numpy.ndarray
        Shape (K, T, B): gain at the angles that matter above that of the reference
        vertical, and of the dipole of the same top height; NaN where no mode exists.
        [dB]
    mean_over_vertical_db, mean_over_dipole_db : float
        Mean of them over targets, hours and bands by chance; NaN if all is closed.
        [dB]
    """

    advice: SetUpAdvice
    score_low: float
    score_high: float
    best_band: Ints
    top_m: Floats
    efficiency_db: Floats
    feed_loss_db: Floats
    over_vertical_db: Floats
    over_dipole_db: Floats
    mean_over_vertical_db: float
    mean_over_dipole_db: float


@record
class Lead:
    """
    Why the first set-up stands before another.

    A part is the mean chance that the other would gain if it were as good as the first
    in that one thing; parts need not add up to the lead.

    Attributes
    ----------
    name : str
        Name of the other set-up.
    lead : float
        Mean chance of the first above it.
    lead_low : float
        Low end of its range under other assumptions.
    lead_high : float
        High end of its range.
    bands : float
        What the first gains by bands that the other is not cut for, less what it loses
        by bands that only the other is cut for.
    angle : float
        Mean chance that the other would gain if it were as good at the angles and in
        the directions that matter.
    efficiency : float
        The same for the wire's efficiency.
    feed : float
        The same for the loss of the feed.
    angle_db : float
        Angles and directions as a mean level, by chance, on the bands both work on;
        the sum of the three is the difference in gain; NaN if no band is common. [dB]
    efficiency_db : float
        Efficiency as a level; NaN if no band is common. [dB]
    feed_db : float
        Feed as a level; NaN if no band is common. [dB]
    only_first : tuple of str
        Bands only the first works on.
    only_other : tuple of str
        Bands only the other works on.
    is_clear : bool
        Whether the first is better under every assumption, or the other is closed and
        better under none.
    """

    name: str
    lead: float
    lead_low: float
    lead_high: float
    bands: float
    angle: float
    efficiency: float
    feed: float
    angle_db: float
    efficiency_db: float
    feed_db: float
    only_first: tuple[str, ...]
    only_other: tuple[str, ...]
    is_clear: bool


class Comparison(ArrayRecord):
    """
    Every set-up of the station side by side.

    Attributes
    ----------
    advice : Answer
        The answer the figures are from.
    setups : tuple of SetUpCompared
        Best first.
    leads : tuple of Lead
        The best against each other one, in their order.
    varied : str
        What the ranges are over, in words.
    cautions : tuple of Caution
        What keeps a set-up from being hung so, whatever its figures are.
    """

    advice: Answer
    setups: tuple[SetUpCompared, ...]
    leads: tuple[Lead, ...]
    varied: str
    cautions: tuple[Caution, ...]


def compare(advice: Answer, cache_dir: Path | None = None) -> Comparison:
    """
    Set the set-ups of an answer side by side.

    Parameters
    ----------
    advice : Answer
        The answer.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    comparison : Comparison
        Set-ups by their mean chance, as `advise` ranks them.
    """
    question, link = advice.question, advice.halves.link
    station = question.station
    solved = {
        setup.name: solve_setup(
            setup, question.bands, station.ground, cache_dir, station.hills
        )
        for setup in station.setups
    }
    others = variants(question, link, advice.halves.spared, cache_dir)
    scores = {
        each.name: _scores(question, each, others, cache_dir) for each in advice.setups
    }
    yardsticks = _Yardsticks(question, link, cache_dir)
    first = advice.setups[0]
    return Comparison(
        advice=advice,
        setups=tuple(
            _compared(question, each, solved[each.name], scores[each.name], yardsticks)
            for each in advice.setups
        ),
        leads=tuple(
            _lead(
                _Side(question, link, first, solved[first.name]),
                _Side(question, link, other, solved[other.name]),
                scores[first.name] - scores[other.name],
            )
            for other in advice.setups[1:]
        ),
        varied=spread_words(each.name for each in others),
        cautions=folded_cautions(
            {
                each.name: [(b, on.hung) for b, on in solved[each.name].items()]
                for each in advice.setups
            }
        ),
    )


def _patterns(solved: Solved) -> dict[str, Pattern]:
    """Pattern on each band, feed loss included."""
    return {band: each.pattern for band, each in solved.items()}


def _worked_deg(setup: SetUpAdvice) -> float:
    """Bearing the figures of a set-up are for."""
    return 0.0 if setup.bearing.wire_deg is None else setup.bearing.wire_deg


def _scores(
    question: Question,
    setup: SetUpAdvice,
    others: tuple[Assumed, ...],
    cache_dir: Path | None,
) -> Floats:
    """Mean chance as asked and under each other assumption, (1 + V,)."""
    wire = next(one for one in question.station.setups if one.name == setup.name)
    worked = [_worked_deg(setup)]
    moved = (
        other.scores(patterns_of(wire, other.question, cache_dir), worked)
        for other in others
    )
    return np.array([setup.score, *(float(each.mean()) for each in moved)])


class _Yardsticks:
    """Gains of the two reference antennas towards the modes, (K, T, B)."""

    def __init__(self, question: Question, link: Link, cache_dir: Path | None) -> None:
        self._question, self._link = question, link
        self._ground = ground_by_name(question.station.ground)
        self.vertical_dbi = self._towards(
            {
                band.name: earthed_pattern(band.planning_mhz, self._ground, cache_dir)
                for band in question.bands
            },
            [0.0],
        )[0]

    def dipole_dbi(self, top_m: Floats, worth: Floats) -> Floats:
        """Gain of half-wave dipoles at a height for each band, as best turned."""
        patterns = {
            band.name: dipole_pattern(band.planning_mhz, float(height), self._ground)
            for band, height in zip(self._question.bands, top_m, strict=True)
            if np.isfinite(height)
        }
        turned = self._towards(patterns, np.arange(0.0, 180.0, DIPOLE_STEP_DEG))
        means = [_mean_by_chance(each, worth) for each in turned]
        return turned[int(np.argmax(np.nan_to_num(means)))]

    def _towards(
        self, patterns: Mapping[str, Pattern], bearing_deg: ArrayLike
    ) -> list[Floats]:
        """Read the gain of an antenna on each of some bearings."""
        gains = wire_gains(self._question, self._link, patterns, bearing_deg)
        return list(gives_dbi(self._question, self._link, gains, patterns))


def _top_m(solution: BandSolution) -> float:
    """Height of the highest point of a set-up."""
    return max(max(wire.start_m[2], wire.end_m[2]) for wire in solution.hung.wires)


def _by_band(question: Question, values: Mapping[str, float]) -> Floats:
    """Order values by band, NaN where the set-up is not used."""
    return np.array([values.get(band.name, np.nan) for band in question.bands])


def _efficiency_db(question: Question, solved: Solved) -> Floats:
    """Efficiency of the wire itself on each band, (B,)."""
    values = {band: each.wire.efficiency for band, each in solved.items()}
    return np.asarray(10.0 * np.log10(_by_band(question, values)))


def _feed_loss_db(question: Question, solved: Solved) -> Floats:
    """Loss from the radio to the wire on each band, (B,)."""
    values = {band: float(each.chain.loss_db[0]) for band, each in solved.items()}
    return _by_band(question, values)


def _mean_by_chance(values: Floats, chance: Floats) -> float:
    """Mean of what is known by chance; NaN where nothing is open."""
    known = np.isfinite(values)
    total = chance[known].sum()
    return float((values * chance)[known].sum() / total) if total > 0.0 else np.nan


def _compared(
    question: Question,
    setup: SetUpAdvice,
    solved: Solved,
    scores: Floats,
    yardsticks: _Yardsticks,
) -> SetUpCompared:
    """Set one set-up against the yardsticks."""
    top = _by_band(question, {band: _top_m(each) for band, each in solved.items()})
    over_vertical = setup.gain_dbi - yardsticks.vertical_dbi
    over_dipole = setup.gain_dbi - yardsticks.dipole_dbi(top, setup.chance)
    return SetUpCompared(
        advice=setup,
        score_low=float(scores.min()),
        score_high=float(scores.max()),
        best_band=best_bands(setup.chance),
        top_m=top,
        efficiency_db=_efficiency_db(question, solved),
        feed_loss_db=_feed_loss_db(question, solved),
        over_vertical_db=over_vertical,
        over_dipole_db=over_dipole,
        mean_over_vertical_db=_mean_by_chance(over_vertical, setup.chance),
        mean_over_dipole_db=_mean_by_chance(over_dipole, setup.chance),
    )


class _Side:
    """One of two set-ups that are set against each other."""

    def __init__(
        self, question: Question, link: Link, setup: SetUpAdvice, solved: Solved
    ) -> None:
        self.question, self.link, self.setup = question, link, setup
        self.gains = wire_gains(question, link, _patterns(solved), _worked_deg(setup))
        self.efficiency_db = np.nan_to_num(_efficiency_db(question, solved))
        learned = _by_band(question, {b: one.learned_db for b, one in solved.items()})
        feed_loss_db = _feed_loss_db(question, solved) - learned
        self.feed_loss_db = np.nan_to_num(feed_loss_db)

    def score(self, gains: Gains) -> float:
        """Mean chance with other gains."""
        both = contact_chance(self.link, gains).both[0]
        return float(over_targets(self.question, both).max(axis=-1).mean())

    def score_on(self, bands: Bools) -> float:
        """Mean chance on some of the bands."""
        chance = np.where(bands, self.setup.chance, 0.0)
        return float(chance.max(axis=-1).mean())


def _shifted(gains: Gains, more_db: Floats) -> Gains:
    """Make an antenna more efficient: what it sends, not what it hears over noise."""
    raised = gains.raised_by(more_db)
    return replace(raised, efficiency_db=gains.efficiency_db + more_db)


def _with_angles_of(first: Gains, other: Gains, common: Bools) -> Gains:
    """Gains of the other with the first one's directivity on the common bands."""
    loss = other.efficiency_db - first.efficiency_db
    return Gains(
        np.where(common[:, None], first.hop_db + loss[:, None], other.hop_db),
        np.where(common, first.ground_db + loss, other.ground_db),
        other.efficiency_db,
    )


def _lead(first: _Side, other: _Side, leads: Floats) -> Lead:
    """Say why the first stands before the other."""
    common = first.setup.works & other.setup.works
    now = other.setup.score
    worth = np.maximum(first.setup.chance, other.setup.chance)
    gain = first.setup.gain_dbi - other.setup.gain_dbi
    efficiency = np.where(common, first.efficiency_db - other.efficiency_db, 0.0)
    feed = np.where(common, other.feed_loss_db - first.feed_loss_db, 0.0)
    known = np.where(np.isfinite(gain), 0.0, np.nan)
    parts_db = [_mean_by_chance(each + known, worth) for each in (efficiency, feed)]
    names = np.array([band.name for band in first.question.bands])
    closed = other.setup.chance.max() < OPEN_CHANCE <= first.setup.chance.max()
    return Lead(
        name=other.setup.name,
        lead=float(leads[0]),
        lead_low=float(leads.min()),
        lead_high=float(leads.max()),
        bands=(first.setup.score - first.score_on(common))
        - (now - other.score_on(common)),
        angle=other.score(_with_angles_of(first.gains, other.gains, common)) - now,
        efficiency=other.score(_shifted(other.gains, efficiency)) - now,
        feed=other.score(_shifted(other.gains, feed)) - now,
        angle_db=_mean_by_chance(gain, worth) - sum(parts_db),
        efficiency_db=parts_db[0],
        feed_db=parts_db[1],
        only_first=tuple(names[first.setup.works & ~other.setup.works].tolist()),
        only_other=tuple(names[other.setup.works & ~first.setup.works].tolist()),
        is_clear=bool(leads.min() >= (-1 if closed else 1) * LEAST_DIFFERENCE),
    )
