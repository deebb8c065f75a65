"""
A plan for an outing: which band when, with which wire, which way it runs.

The chances are those of every other command. A timetable is chosen through them by
dynamic programming, so that a change of band or of wire is made only where it is
worth the time it takes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer, Halves, SetUpAdvice, advise_setup
from advisor.answers.ask import answer, sent_as, turned
from advisor.answers.bearings import AS_GOOD, Scan, bearing_from, scan_bearings
from advisor.answers.best import ranked
from advisor.answers.limits import LIMITS, OPEN_CHANCE
from advisor.answers.low_wires import low_parts
from advisor.answers.outing.timetable import (
    Costs,
    check_enough,
    is_open,
    shared_out,
    timetable,
    values,
    weighted,
)
from advisor.answers.perturb import Assumed, Change, case_of, remedies
from advisor.answers.uncertainty import LEAST_DIFFERENCE, spread_words, variants
from advisor.engine.engine import link_for
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import describe_targets
from advisor.engine.wires import far_end_patterns, hung_wire, patterns_of
from advisor.station.bands import Band
from advisor.station.setup import SetUp
from geo.arrays import Floats, Ints
from geo.records import ArrayRecord

ALIKE_CHANCE = 0.5 * LEAST_DIFFERENCE
"""A wire with live parts within reach is taken only if it gains more than this in the
mean of an hour: less is a tie."""


HARDLY_H = 0.05
"""A target with fewer expected hours, told as 0.0, is told to be left out. [h]"""


class Slot(ArrayRecord):
    """
    A run of hours on one band with one wire.

    Attributes
    ----------
    first, last : int
        First and last hour, as places on the hour axis.
    hour : int
        The hour with the greatest weighted chance.
    target : int
        The target that makes most of it.
    setup, band : int
        Which of the advice's set-ups, which band; -1 where nothing opens.
    chance : numpy.ndarray
        Shape (K,): mean chance to each target.
    peak : numpy.ndarray
        Shape (K,): greatest chance to each target.
    low, high : float
        Range of the weighted mean chance over the other assumptions.
    mean : float
        Weighted mean chance.
    backup_setup, backup_band : int
        What to try if the band is dead; -1 if nothing else opens.
    backup_mean : float
        Weighted mean chance of that.
    also : tuple of float
        Weighted mean chance of each other emission of the station; NaN on a band that
        it is not used on.
    """

    first: int
    last: int
    hour: int
    target: int
    setup: int
    band: int
    chance: Floats
    peak: Floats
    low: float
    high: float
    mean: float
    backup_setup: int
    backup_band: int
    backup_mean: float
    also: tuple[float, ...] = ()

    @property
    def hours(self) -> int:
        """How many hours."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class Missed:
    """
    A target that no slot of the plan reaches.

    Attributes
    ----------
    target : int
        Which target.
    setup, hour, band : int
        Where its chance is greatest of all wires, hours and bands that a wire is cut
        for; where all are closed, where most signal is.
    chance : float
        That chance.
    limit : str
        What stands in the way there, one of `advisor.answers.limits.LIMITS`.
    """

    target: int
    setup: int
    hour: int
    band: int
    chance: float
    limit: str


class Activation(ArrayRecord):
    """
    The plan.

    Attributes
    ----------
    advice : Answer
        The chances, set-ups best first, on the bearings of the plan.
    setups : tuple of SetUp
        The same set-ups as hung, in the same order.
    weights : numpy.ndarray
        Shape (K,): what each target counts, together 1.
    costs : Costs
        What changes cost.
    enough_h : float or None
        Expected hours after which a target counts half; None for never. [h]
    slots : tuple of Slot
        In time order, all hours covered.
    expected_h : numpy.ndarray
        Shape (K,): sum of the chances over the plan: expected hours in which a
        station of the target can be worked. [h]
    score, low, high : float
        Weighted mean chance over the hours in which anything opens, and its range
        over the other assumptions.
    best_possible : float
        The same with the best band and wire each hour, changes free.
    varied : str
        What the ranges are over, in words.
    remedies : tuple of Change
        What would make the plan better, on the wire used most.
    """

    advice: Answer
    setups: tuple[SetUp, ...]
    weights: Floats
    costs: Costs
    enough_h: float | None
    slots: tuple[Slot, ...]
    expected_h: Floats
    score: float
    low: float
    high: float
    best_possible: float
    varied: str
    remedies: tuple[Change, ...]

    @property
    def used(self) -> tuple[int, ...]:
        """Set-ups of the plan, by the hours they are used, most first."""
        hours: dict[int, int] = {}
        for slot in self.slots:
            if slot.setup >= 0:
                hours[slot.setup] = hours.get(slot.setup, 0) + slot.hours
        return tuple(sorted(hours, key=lambda s: (-hours[s], s)))

    @property
    def missed(self) -> tuple[Missed, ...]:
        """Targets that no slot reaches, or hardly, where they do best."""
        found = []
        chance = np.stack([one.chance for one in self.advice.setups])
        rank, best = ranked(self.advice.setups), self.advice.best
        for k in range(len(self.advice.targets)):
            peak = max(float(slot.peak[k]) for slot in self.slots)
            if peak >= OPEN_CHANCE and self.expected_h[k] >= HARDLY_H:
                continue
            s, t, b = (
                int(i)
                for i in np.unravel_index(int(rank[:, k].argmax()), rank[:, k].shape)
            )
            # What is shut is nearest where `tonight` has it.
            state, margin_db = self.advice.states[k], best.margin_db[k]
            is_near = (state == state.min()) & np.isfinite(margin_db)
            if chance[s, k, t, b] < OPEN_CHANCE and is_near.any():
                short = np.where(is_near, margin_db, -np.inf)
                t, b = (int(i) for i in np.unravel_index(short.argmax(), short.shape))
                s = int(best.setup[k, t, b])
            limit = LIMITS[int(self.advice.setups[s].limit[k, t, b])]
            found.append(Missed(k, s, t, b, float(chance[s, k, t, b]), limit))
        return tuple(found)

    @property
    def changes(self) -> int:
        """How often band or wire is changed."""
        open_slots = [slot for slot in self.slots if slot.setup >= 0]
        pairs = pairwise(open_slots)
        return sum((a.setup, a.band) != (b.setup, b.band) for a, b in pairs)

    def bands_with(self, setup: int) -> tuple[str, ...]:
        """
        List the bands a set-up is used on, in the plan or as backup.

        Parameters
        ----------
        setup : int
            Which of the set-ups.

        Returns
        -------
        names : tuple of str
            Lowest first.
        """
        used = {slot.band for slot in self.slots if slot.setup == setup}
        used |= {s.backup_band for s in self.slots if s.backup_setup == setup}
        return tuple(
            band.name for b, band in enumerate(self.advice.question.bands) if b in used
        )


def plan_activation(
    question: Question,
    weights: Floats,
    costs: Costs,
    cache_dir: Path | None = None,
    on_wire: Callable[[], object] = lambda: None,
    enough_h: float | None = None,
) -> Activation:
    """
    Plan an outing.

    Parameters
    ----------
    question : Question
        What is asked; every set-up of its station may be used.
    weights : numpy.ndarray
        Shape (K,): what each target counts, together 1.
    costs : Costs
        What changes cost.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.
    on_wire : callable, optional
        Called when a set-up is done.
    enough_h : float, optional
        Expected hours of contact after which a target counts half as much; None for
        never. [h]

    Returns
    -------
    plan : Activation
        Timetable, bearings, backups, shares.
    """
    if enough_h is not None:
        check_enough(enough_h)
    far = far_end_patterns(question.station.far_end, question.bands, cache_dir)
    link = link_for(question, question.solar.r12, far, cache_dir=cache_dir)
    others = variants(question, link, cache_dir=cache_dir)
    spared = tuple(each.link for each in others if each.question is question)
    hung_patterns = {}
    pairs = []
    for setup in question.station.setups:
        hung_patterns[setup.name] = patterns = patterns_of(setup, question, cache_dir)
        scan = scan_bearings(question, link, patterns)
        turn = bearing_from(scan, setup.bearing_deg)
        if turn.is_free and not scan.is_round and np.ptp(weights) > 0.0:
            wire_deg = _compromise_deg(scan, weights)
            # Turned here, not by the operator: it stays free to turn.
            turn = replace(bearing_from(scan, wire_deg), is_free=True)
            setup = replace(setup, bearing_deg=wire_deg)
        told = advise_setup(question, link, spared, setup, patterns, turn, scan)
        pairs.append((setup, told))
        on_wire()
    pairs.sort(
        key=lambda pair: -float(weighted(pair[1].chance, weights).max(-1).mean())
    )
    live = np.array([has_live_reach(hung, question.bands) for hung, _ in pairs])
    setups = tuple(hung for hung, _ in pairs)
    read = tuple(advice for _, advice in pairs)
    station = replace(question.station, setups=setups)
    question = replace(question, station=station)
    advice = Answer(
        question=question,
        targets=tuple(describe_targets(question, link)),
        setups=read,
        halves=Halves(link, spared, hung_patterns, far),
    )
    value = values(read, weights)
    opens = is_open(read)
    # An hour of less than a word's worth is none to wait for.
    worth = values(
        [
            replace(one, chance=np.where(one.chance < OPEN_CHANCE, 0.0, one.chance))
            for one in read
        ],
        weights,
    )
    worth -= np.clip(0.5 * worth, 0.0, ALIKE_CHANCE) * live[:, None, None]
    # Time lost is worth what the hours give: a poor outing is no reason to sit still.
    paid = costs.at(float(worth.max(initial=0.0)))
    path = timetable(worth, opens, paid)
    if enough_h is not None:
        path = shared_out(path, read, weights, opens, paid, enough_h)
    path = _worked(read, path)
    slots = _slots(read, weights, value, path, paid)
    ranged = _ranged(question, others, setups, read, weights, path, cache_dir)
    slots = tuple(
        replace(
            slot,
            low=float(ranged[:, slot.first : slot.last + 1].mean(axis=1).min()),
            high=float(ranged[:, slot.first : slot.last + 1].mean(axis=1).max()),
        )
        for slot in slots
    )
    slots = _with_others_sent(advice, slots, weights, cache_dir)
    reached = _along(read, path)
    hours = np.flatnonzero(opens)
    mean = ranged[:, hours].mean(axis=1) if hours.size else np.zeros(1)
    best = value.reshape(-1, *value.shape[1:]).max(axis=(0, 2))
    return Activation(
        advice=advice,
        setups=setups,
        weights=weights,
        costs=costs,
        enough_h=enough_h,
        slots=slots,
        expected_h=reached[:, hours].sum(axis=1),
        score=float(mean[0]),
        low=float(mean.min()),
        high=float(mean.max()),
        best_possible=float(best[hours].mean()) if hours.size else 0.0,
        varied=spread_words(each.name for each in others),
        remedies=_remedies(question, link, setups, read, weights, path, cache_dir),
    )


def has_live_reach(setup: SetUp, bands: Sequence[Band]) -> bool:
    """
    Say whether a set-up has parts within reach that carry a high voltage.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    bands : sequence of Band
        Bands asked about.

    Returns
    -------
    is_live : bool
        On any of the bands that it is cut for.
    """
    mine = [band.planning_mhz for band in bands if band.name in setup.bands]
    return any(
        part.is_live for mhz in mine for part in low_parts(hung_wire(setup, mhz), mhz)
    )


def _compromise_deg(scan: Scan, weights: Floats) -> float:
    """Best bearing with targets counted by weight; of those alike the strongest."""
    score = scan.score @ weights
    worth = (scan.chance.max(axis=0) + 1e-6) * weights[:, None, None]
    level = (scan.level_db * worth).sum(axis=(1, 2, 3))
    rivals = score >= score.max() - AS_GOOD
    return float(scan.tried_deg[np.argmax(np.where(rivals, level, -np.inf))])


def _worked(setups: Sequence[SetUpAdvice], path: Ints) -> Ints:
    """Leave out runs of hours on a band that opens to no target in them."""
    reached = _along(setups, path).max(axis=0)
    kept = path.copy()
    for part in _runs(path):
        if reached[part].max() < OPEN_CHANCE:
            kept[part] = -1
    return kept


def _runs(path: Ints) -> list[Ints]:
    """Gather hours on one band with one wire."""
    edges = np.flatnonzero((np.diff(path, axis=0) != 0).any(axis=1)) + 1
    return np.split(np.arange(path.shape[0]), edges)


def _along(setups: Sequence[SetUpAdvice], path: Ints) -> Floats:
    """Chance to every target hour by hour along the plan, (K, T); 0 where closed."""
    chance = np.stack([one.chance for one in setups])
    hours = np.arange(path.shape[0])
    taken = chance[path[:, 0], :, hours, path[:, 1]].T
    return np.asarray(np.where(path[:, 0] >= 0, taken, 0.0))


def _slots(
    setups: Sequence[SetUpAdvice],
    weights: Floats,
    value: Floats,
    path: Ints,
    costs: Costs,
) -> tuple[Slot, ...]:
    """Say what the runs of hours on one band with one wire give."""
    reached = _along(setups, path)
    slots = []
    for part in _runs(path):
        setup, band = (int(i) for i in path[part[0]])
        chance = reached[:, part]
        backup = _backup(value[:, part], setup, band, costs)
        slots.append(
            Slot(
                first=int(part[0]),
                last=int(part[-1]),
                hour=int(part[(weights @ chance).argmax()]),
                target=int((weights * chance.mean(axis=1)).argmax()),
                setup=setup,
                band=band,
                chance=chance.mean(axis=1),
                peak=chance.max(axis=1),
                low=0.0,
                high=0.0,
                mean=float(weights @ chance.mean(axis=1)),
                backup_setup=backup[0],
                backup_band=backup[1],
                backup_mean=backup[2],
            )
        )
    return tuple(slots)


def _with_others_sent(
    advice: Answer, slots: tuple[Slot, ...], weights: Floats, cache_dir: Path | None
) -> tuple[Slot, ...]:
    """Say what the other emissions of the station would do in each slot."""
    question = advice.question
    station = replace(question.station, setups=tuple(turned(advice)))
    question = replace(question, station=station)
    for sent in station.also_sent:
        asked = sent_as(question, sent)
        names = [band.name for band in asked.bands]
        told = {one.name: one.chance for one in answer(asked, cache_dir).setups}
        also = []
        for slot in slots:
            band = question.bands[slot.band].name
            mean = np.nan
            if slot.setup >= 0 and band in names:
                chance = told[station.setups[slot.setup].name][..., names.index(band)]
                mean = float(weights @ chance[:, slot.first : slot.last + 1].mean(1))
            also.append(replace(slot, also=(*slot.also, mean)))
        slots = tuple(also)
    return slots


def _backup(
    value: Floats, setup: int, band: int, costs: Costs
) -> tuple[int, int, float]:
    """
    Best other band over a slot, another wire only if it is worth the change.

    What would be better but for the changes, or is left to share out, comes last: it
    is a spare only where nothing else opens.
    """
    if setup < 0:
        return -1, -1, 0.0
    mean = value.mean(axis=1)
    rated = np.where(mean >= OPEN_CHANCE, mean, -np.inf)
    rated[np.arange(len(mean)) != setup] -= costs.swap / value.shape[1]
    rated[:, band] = -np.inf
    usual = np.where(mean <= mean[setup, band], rated, -np.inf)
    rated = usual if np.isfinite(usual).any() else rated
    best = np.unravel_index(int(rated.argmax()), rated.shape)
    if not np.isfinite(rated[best]):
        return -1, -1, 0.0
    return int(best[0]), int(best[1]), float(mean[best])


def _ranged(
    question: Question,
    others: Sequence[Assumed],
    setups: Sequence[SetUp],
    read: Sequence[SetUpAdvice],
    weights: Floats,
    path: Ints,
    cache_dir: Path | None,
) -> Floats:
    """Weighted chance of the plan hour by hour, as asked and under each variant."""
    rows = [weights @ _along(read, path)]
    names = [band.name for band in question.bands]
    for variant in others:
        row = np.zeros(path.shape[0])
        for s in sorted({*path[:, 0].tolist()} - {-1}):
            mine = path[:, 0] == s
            wanted = {names[b] for b in path[mine, 1]}
            # The wire stays as it is cut: only the bands asked about are fewer.
            bands = tuple(b for b in question.bands if b.name in wanted)
            asked = replace(variant.question, bands=bands)
            patterns = patterns_of(setups[s], asked, cache_dir)
            case = case_of(variant, patterns, read[s].bearing.wire_deg)
            chance = np.tensordot(weights, case.chance(), 1)
            row[mine] = chance[mine, path[mine, 1]]
        rows.append(row)
    return np.stack(rows)


def _remedies(
    question: Question,
    link: Link,
    setups: Sequence[SetUp],
    read: Sequence[SetUpAdvice],
    weights: Floats,
    path: Ints,
    cache_dir: Path | None,
) -> tuple[Change, ...]:
    """Find what would make the plan better on the wire used most."""
    taken = path[path[:, 0] >= 0, 0]
    if not taken.size:
        return ()
    most = int(np.bincount(taken).argmax())
    mine = np.flatnonzero(path[:, 0] == most)

    def figure(chance: Floats) -> float:
        return float(weighted(chance, weights)[mine, path[mine, 1]].mean())

    wire, bearing = setups[most], read[most].bearing
    patterns = patterns_of(wire, question, cache_dir)
    now = case_of(Assumed(question, link), patterns, bearing.wire_deg)
    return remedies(now, wire, bearing, figure, cache_dir)
