"""
What to hang: every shape that fits the supports, its dimensions searched.

The sky is derived once; a candidate costs the solving of its wires and one pass of
the engine over its bearings, at some of the hours. The search is coarse to fine: sizes
that use the supports to the full, then one dimension after the other in shrinking
steps. The best of each shape is read out at every hour, by the code of every answer.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from advisor.answers.advice import (
    Answer,
    Halves,
    OnDemand,
    SetUpAdvice,
    advise_setup,
    sky_halves,
)
from advisor.answers.hanging.found import Candidate, HangAnswer, Hung, longest
from advisor.answers.hanging.posts import Rigging, best_rigging
from advisor.answers.hanging.starts import (
    changes,
    clearances,
    defaults,
    knobs,
    own_lengths,
)
from advisor.answers.hanging.supports import (
    bearings_for,
    is_held,
    poles_needed,
    reasons_by_band,
    set_up,
)
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.perturb import Assumed, Change, assume, case_of, remedies
from advisor.answers.shared import share_out
from advisor.answers.uncertainty import LEAST_DIFFERENCE, spread_words, variants
from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.shapes.registry import settle
from advisor.antenna.shapes.search import AtHand, Sizes
from advisor.engine.contact import contact_chance
from advisor.engine.engine import wire_gains
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import describe_targets, over_targets
from advisor.engine.wires import far_end_patterns, hung_wire, patterns_of, solve_once
from advisor.station.bands import Band, band_by_name
from advisor.station.setup import EACH_BAND, SetUp
from geo.arrays import Bools, Floats
from geo.errors import InputError

MOST_TRIED = 16
"""Candidates a shape is given; the search seldom gains more than 0.01 after that."""

COARSE_STEP_DEG = 15.0
"""Bearings tried during the search; the result is turned more finely. [deg]"""

STRONG_DBI = 8.0
"""More than any wire of these shapes gives over many angles at once. [dBi]"""

_MOST_LENGTHS = 6
"""Default lengths tried of a wire of one length, the longest that fit."""

_BEHIND = 0.1
"""A band this far behind the best in every hour is left out of the search."""

_MOST_HOURS = 8
"""Of a long question the search looks at so many hours, evenly spread."""

_KEPT = 16
"""Patterns kept in memory: a candidate is asked for again only while it is new."""

_SHRINKING = (0.3, 0.12)
"""Steps of the fine search, as shares of a dimension's range."""


@dataclass
class HangSearch:
    """
    The search, one candidate a step, so that it can be shown and stopped.

    Attributes
    ----------
    question : Question
        What is asked; its station's own set-ups play no part.
    at_hand : AtHand
        Supports, wire and space.
    shapes : tuple of str
        Shapes to try.
    tuner : bool
        Whether there is a tuner at the radio.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.
    refused : dict of str to str
        Shapes found not to fit, with the reason.
    """

    question: Question
    at_hand: AtHand
    shapes: tuple[str, ...]
    tuner: bool = True
    cache_dir: Path | None = None
    refused: dict[str, str] = field(default_factory=dict)
    _tried: dict[str, list[Candidate]] = field(default_factory=dict)
    _found: dict[str, Hung] = field(default_factory=dict)
    _bands: dict[str, tuple[Band, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        question = self.question
        self._far = far_end_patterns(
            question.station.far_end, question.bands, self.cache_dir
        )
        self._link, self._spared = sky_halves(question, self._far, self.cache_dir)
        in_play = bands_in_play(question, self._link)
        kept = tuple(
            b for b, is_in in zip(question.bands, in_play, strict=True) if is_in
        )
        # With nothing in play all wires are alike; one band keeps the search going.
        self._in_play = replace(question, bands=kept or question.bands[:1])
        self._variants: tuple[Assumed, ...] = variants(
            self._in_play,
            assume(self._in_play, cache_dir=self.cache_dir).link,
            cache_dir=self.cache_dir,
        )
        some = slice(None, None, max(question.times.size // _MOST_HOURS, 1))
        self._quick = replace(
            self._in_play,
            times=question.times[some],
            solar=question.solar.at(some),
        )
        self._quick_link = assume(self._quick, cache_dir=self.cache_dir).link
        self._ground = ground_by_name(question.station.ground)

        @lru_cache(maxsize=_KEPT)
        def pattern(setup: SetUp, frequency_mhz: float, ground: Ground) -> Pattern:
            return solve_once(
                setup, frequency_mhz, ground, self.cache_dir, is_kept=False
            ).pattern

        self._pattern = pattern

    @property
    def steps(self) -> int:
        """How many steps `run` takes at most."""
        return len(self.shapes) * (MOST_TRIED + 1)

    @property
    def has_any(self) -> bool:
        """Whether anything that fits was found so far."""
        return any(self._tried.values())

    def run(self, processes: int = 1) -> Iterator[int]:
        """
        Search shape by shape.

        Parameters
        ----------
        processes : int, optional
            Over how many processes the shapes are shared; the answer is the same.

        Yields
        ------
        steps : int
            Steps done since the last time; all told as many as `steps`.
        """
        if processes > 1:
            pieces = len(self.shapes)
            yield from share_out(self._parts, pieces, self._add, processes)
        for shape in self.shapes:
            # All but those of a process that was ended from outside.
            if shape not in self._found and shape not in self.refused:
                self._tried.pop(shape, None)
                self._bands.pop(shape, None)
                yield from self._run_shape(shape)

    def _run_shape(self, shape: str) -> Iterator[int]:
        """Search one shape."""
        left = MOST_TRIED + 1
        for _ in self._search(shape):
            left -= 1
            yield 1
        if self._tried.get(shape):
            self._found[shape] = self._read_out(shape)
        yield left

    @property
    def _kept(self) -> tuple[dict[str, Any], ...]:
        """All that is known by shape."""
        return self._tried, self._found, self._bands, self.refused

    def _parts(self, index: int) -> Iterator[tuple[int, list[dict[str, Any]]]]:
        """Search one shape; after each step give what `_add` takes in elsewhere."""
        shape = self.shapes[index]
        for steps in self._run_shape(shape):
            kept = self._kept
            yield steps, [{shape: k[shape]} if shape in k else {} for k in kept]

    def _add(self, parts: list[dict[str, Any]]) -> None:
        """Take in what another process has found."""
        for each, more in zip(self._kept, parts, strict=True):
            each.update(more)

    def answer(self, is_stopped: bool = False) -> HangAnswer:
        """
        Rank what has been found so far.

        Parameters
        ----------
        is_stopped : bool, optional
            Whether the search was stopped before it was through.

        Returns
        -------
        answer : HangAnswer
            Best first.

        Raises
        ------
        geo.errors.InputError
            If nothing fits.
        """
        for shape in self.shapes:
            if self._tried.get(shape) and shape not in self._found:
                # Stopped in the middle of a shape: its best so far.
                self._found[shape] = self._read_out(shape)
        # As asked, whichever was through first.
        best = [self._found[shape] for shape in self.shapes if shape in self._found]
        refused = {s: self.refused[s] for s in self.shapes if s in self.refused}
        done = {*self._found, *refused}
        if not best:
            why = "; ".join(f"{name} {text}" for name, text in refused.items())
            raise InputError(
                f"nothing fits what is at hand: {why or 'the search was stopped'}"
            )
        ranked = sorted(best, key=lambda one: -one.advice.score)
        found = tuple(
            replace(one, is_equal=one is not ranked[0] and _alike(ranked[0], one))
            for one in ranked
        )
        station = replace(
            self.question.station, setups=tuple(one.setup for one in found)
        )
        question = replace(self.question, station=station)
        advice = Answer(
            question=question,
            targets=tuple(describe_targets(question, self._link)),
            setups=tuple(one.advice for one in found),
            are_rivals=True,
            halves=Halves(
                self._link,
                self._spared,
                OnDemand(
                    {
                        one.setup.name: partial(
                            self._patterns, one.setup, question.bands
                        )
                        for one in found
                    }
                ),
                self._far,
            ),
        )
        return HangAnswer(
            advice=advice,
            at_hand=self.at_hand,
            found=found,
            refused=refused,
            not_reached=tuple(s for s in self.shapes if s not in done),
            varied=spread_words(each.name for each in self._variants),
            remedies=self._remedies(found[0]),
            is_stopped=is_stopped,
        )

    def _remedies(self, best: Hung) -> tuple[Change, ...]:
        """Try what would help the best."""
        bearing = best.advice.bearing
        patterns = patterns_of(best.setup, self.question, self.cache_dir)
        now = case_of(Assumed(self.question, self._link), patterns, bearing.wire_deg)

        def figure(chance: Floats) -> float:
            return float(chance.max(axis=-1).mean())

        return remedies(now, best.setup, bearing, figure, self.cache_dir)

    def _search(self, shape: str) -> Iterator[Candidate]:
        """Try candidates of a shape, at most `MOST_TRIED`."""
        clear_m = self._clear_m(shape)
        seen: set[tuple[tuple[str, float], ...]] = set()
        tried = self._tried.setdefault(shape, [])
        reasons: list[list[tuple[str, str]]] = []

        def attempt(sizes: Sizes) -> Iterator[Candidate]:
            key = tuple(sorted(sizes.items()))
            if key in seen or len(tried) >= MOST_TRIED:
                return
            seen.add(key)
            found = self._candidate(shape, sizes, clear_m)
            if isinstance(found, list):
                reasons.append(found)
            else:
                tried.append(found)
                yield found

        steps = changes(shape, self.at_hand, clear_m)
        usual = defaults(shape, self.question.bands)
        for base in [*usual, *own_lengths(shape, self.at_hand)]:
            fitted = len(tried)
            if base in usual and fitted >= _MOST_LENGTHS:
                continue
            for change in steps:
                if len(tried) > fitted:
                    break
                yield from attempt({**base, **change})
        if not tried:
            # Of one cut for each band, that of the first sizes.
            told = reasons[:1] if len(usual) == 1 else reasons
            self.refused[shape] = _main_reason([each for one in told for each in one])
            return
        best = max(tried, key=lambda one: one.score)
        for change in steps:
            yield from attempt({**best.sizes, **change})
        for share in _SHRINKING:
            for name, knob in knobs(shape, self.at_hand, clear_m).items():
                step = share * (knob.high - knob.low)
                for way in (step, -step):
                    best = max(tried, key=lambda one: one.score)
                    value = knob.set_to(self._size(best, name) + way)
                    yield from attempt({**best.sizes, name: value})

    def _clear_m(self, shape: str) -> float:
        """
        Find the height that live ends and lying wires of a shape can keep.

        It is out of reach, if that fits on a band that may open; else the first that
        fits on most of these bands, or on any.
        """
        in_play = {band.name for band in self._quick.bands}
        usual = defaults(shape, self.question.bands)
        bases = [*usual, *own_lengths(shape, self.at_hand)]
        ranked: list[tuple[int, bool, float]] = []
        for clear_m in clearances(shape):
            fits: set[str] = set()
            for change in changes(shape, self.at_hand, clear_m):
                for base in bases:
                    fits |= self._fits({**base, **change}, shape, clear_m)
                    if in_play & fits and not ranked:
                        return clear_m
            ranked.append((len(in_play & fits), bool(fits), clear_m))
        # The highest of those that are alike; with none, the lowest has the reasons.
        _, has_any, highest_m = max(ranked)
        return highest_m if has_any else clearances(shape)[-1]

    def _fits(self, sizes: Sizes, shape: str, clear_m: float) -> set[str]:
        """List the bands on which a shape fits with some dimensions."""
        reasons = reasons_by_band(
            shape, sizes, self.question.bands, self.at_hand, self.tuner, clear_m
        )
        return {name for name, reason in reasons.items() if reason is None}

    def _size(self, candidate: Candidate, name: str) -> float:
        """Look up a dimension of a candidate, by default that of its lowest band."""
        lowest = min(band_by_name(b).planning_mhz for b in candidate.setup.bands)
        return settle(candidate.setup.shape, lowest, candidate.sizes)[name]

    def _candidate(
        self, shape: str, sizes: Sizes, clear_m: float
    ) -> Candidate | list[tuple[str, str]]:
        """Score one candidate, or say band by band why it does not fit."""
        bands = self.question.bands
        reasons = reasons_by_band(
            shape, sizes, bands, self.at_hand, self.tuner, clear_m
        )
        fits = tuple(name for name, reason in reasons.items() if reason is None)
        left_out = {name: text for name, text in reasons.items() if text is not None}
        if not fits:
            return list(left_out.items())
        setup = set_up(shape, sizes, fits, self.tuner)
        try:
            patterns = self._patterns(setup, self._bands.get(shape, self._quick.bands))
            bearings = self._bearings(setup, patterns, COARSE_STEP_DEG)
        except InputError as error:
            return [(fits[-1], str(error).removeprefix(f"{shape}: "))]
        gains = wire_gains(
            self._quick, self._quick_link, patterns, bearings, open_only=True
        )
        both = contact_chance(self._quick_link, gains).both
        chance = over_targets(self._quick, both, axis=1)
        scores = chance.max(axis=-1).mean(axis=(1, 2))
        if shape not in self._bands:
            behind = (chance < chance.max(axis=-1)[..., None] - _BEHIND).all(
                axis=(0, 1, 2)
            )
            self._bands[shape] = tuple(
                band
                for band, is_behind in zip(self._quick.bands, behind, strict=True)
                if not is_behind or band.name not in patterns
            )
        return Candidate(setup, sizes, float(scores.max()), left_out)

    def _patterns(
        self, setup: SetUp, bands: Sequence[Band], ground: Ground | None = None
    ) -> dict[str, Pattern]:
        """Solve a set-up on some bands; other bearings are rotations."""
        return {
            band.name: self._pattern(setup, band.planning_mhz, ground or self._ground)
            for band in bands
            if band.name in setup.bands
        }

    def _bearings(
        self, setup: SetUp, patterns: Mapping[str, Pattern], step_deg: float
    ) -> Floats:
        """Bearings worth a try: allowed on every band; half a turn if that is all."""
        if all(pattern.is_round for pattern in patterns.values()):
            return np.zeros(1)
        allowed = self._allowed_deg(setup)
        if is_held(self._hung(setup, setup.bands[0]), self.at_hand):
            tried = allowed
        else:
            tried = allowed[allowed % step_deg == 0.0]
            tried = tried if tried.size else allowed
        if not self.at_hand.free_deg and all(
            pattern.is_reversible for pattern in patterns.values()
        ):
            tried = tried[(tried < 180.0) | ~np.isin(tried - 180.0, tried)]
        return tried

    def _allowed_deg(self, setup: SetUp) -> Floats:
        """Bearings on which the wire lies in the free sectors on every band."""
        allowed = bearings_for(self._hung(setup, setup.bands[0]), self.at_hand)
        for name in setup.bands[1:]:
            if setup.cut != EACH_BAND:
                break
            more = bearings_for(self._hung(setup, name), self.at_hand)
            allowed = np.intersect1d(allowed, more)
        if not allowed.size:
            raise InputError("no bearing suits supports and sectors on all its bands")
        return allowed

    @staticmethod
    def _hung(setup: SetUp, band_name: str) -> HungWire:
        """Hang a set-up as it is on one band."""
        return hung_wire(setup, band_by_name(band_name).planning_mhz)

    def _read_out(self, shape: str) -> Hung:
        """Read the best of a shape."""
        tried = self._tried[shape]
        winner = max(tried, key=lambda one: one.score)
        setup, advice = self._advise(winner)
        worked = 0.0 if advice.bearing.wire_deg is None else advice.bearing.wire_deg
        others = [
            self._score_under(variant, setup, worked) for variant in self._variants
        ]
        scores = np.array([advice.score, *others])
        wires = {name: self._hung(setup, name) for name in setup.bands}
        return Hung(
            setup=setup,
            advice=advice,
            wires=wires,
            low=float(scores.min()),
            high=float(scores.max()),
            scores=scores,
            left_out=winner.left_out,
            tried=len(tried),
            rigging=self._rigging(wires, advice.bearing.wire_deg),
        )

    def _rigging(
        self, wires: Mapping[str, HungWire], bearing_deg: float | None
    ) -> Rigging | None:
        """Choose the supports of the longest wire of a set-up."""
        if not wires or not self.at_hand.posts:
            return None
        needed = poles_needed(longest(wires))
        return best_rigging(needed, self.at_hand.posts, bearing_deg)

    def _score_under(self, variant: Assumed, setup: SetUp, bearing_deg: float) -> float:
        """Score a set-up under another assumption, on bands that are near the best."""
        bands = self._bands[setup.shape]
        ground = ground_by_name(variant.question.station.ground)
        patterns = self._patterns(setup, bands, ground)
        return float(variant.scores(patterns, [bearing_deg]).mean())

    def _advise(self, candidate: Candidate) -> tuple[SetUp, SetUpAdvice]:
        """Say of a candidate what every command would say of it."""
        setup = candidate.setup
        patterns = self._patterns(setup, self.question.bands)
        is_round = all(pattern.is_round for pattern in patterns.values())
        is_bound = self.at_hand.free_deg or self.at_hand.posts
        if is_bound and setup.is_free_to_turn and not is_round:
            allowed = self._bearings(setup, patterns, 5.0)
            sky = Assumed(self.question, self._link)
            scores = sky.scores(patterns, allowed).mean(axis=-1)
            setup = setup.changed(bearing_deg=float(allowed[scores.argmax()]))
        told = advise_setup(self.question, self._link, self._spared, setup, patterns)
        # Turned here, as far as there is room; not given by the operator.
        return setup, replace(told, bearing=replace(told.bearing, is_free=True))


def bands_in_play(question: Question, link: Link) -> Bools:
    """
    Find the bands that a very good antenna would open at some hour.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half of it.

    Returns
    -------
    in_play : numpy.ndarray of bool
        Shape (B,). No wire is the better for a band outside these by more than one
        day in twenty, in hours in which all is closed.
    """
    paths, bands = link.paths.distance_km.size, len(question.bands)
    strong = Gains(
        hop_db=np.full((1, *link.modes.loss_db.shape), STRONG_DBI),
        ground_db=np.full((1, paths, bands), STRONG_DBI),
        efficiency_db=np.zeros(bands),
    )
    chance = over_targets(question, contact_chance(link, strong).both, axis=1)
    return np.asarray((chance[0] >= OPEN_CHANCE).any(axis=(0, 1)))


def _main_reason(reasons: Sequence[tuple[str, str]]) -> str:
    """Find what is in the way most often, told for the highest band."""
    kinds = [re.sub(r"[\d.]+", "#", text) for _, text in reasons]
    most = Counter(kinds).most_common(1)[0][0]
    band, text = next(
        each
        for each, kind in zip(reversed(reasons), reversed(kinds), strict=True)
        if kind == most
    )
    return f"on {band}, {text}"


def _alike(best: Hung, other: Hung) -> bool:
    """
    Whether two are equal within the uncertainty.

    They are if they differ by less than the method can tell, or if one assumption
    would turn their order round. Both are judged under the same assumptions.
    """
    ahead = best.scores - other.scores
    return bool(ahead[0] < LEAST_DIFFERENCE or (ahead < 0.0).any())
