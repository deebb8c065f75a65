"""What the search for a wire found: candidates, the best of a shape, the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.hanging.posts import Rigging
from advisor.answers.hanging.supports import wire_used_m
from advisor.answers.low_wires import reach_cautions
from advisor.answers.perturb import Change
from advisor.answers.words import in_ten
from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.shapes.search import AtHand, Sizes
from advisor.station.bands import band_by_name
from advisor.station.cautions import Caution
from advisor.station.setup import SetUp
from geo.arrays import Floats
from geo.records import ArrayRecord


@dataclass(frozen=True)
class Candidate:
    """
    One shape with some dimensions, as the search saw it.

    Attributes
    ----------
    setup : SetUp
        On the bands that fit, free to turn.
    sizes : dict of str to float
        Dimensions given.
    score : float
        Mean over targets and hours of the best band's chance, on the best of the
        coarse bearings.
    left_out : dict of str to str
        For each band it does not fit, the reason.
    """

    setup: SetUp
    sizes: Sizes
    score: float
    left_out: Mapping[str, str]


class Hung(ArrayRecord):
    """
    The best found of one shape.

    Attributes
    ----------
    setup : SetUp
        As a station file would hold it.
    advice : SetUpAdvice
        What every command says of it on this question.
    wires : mapping of str to HungWire
        As hung on each band it fits.
    low, high : float
        Range of its score over the other assumptions.
    scores : numpy.ndarray
        Its score as asked, then under each of the other assumptions.
    left_out : mapping of str to str
        For each band it does not fit, the reason.
    tried : int
        Candidates looked at.
    is_equal : bool
        Whether it and the best of all are equal within the uncertainty.
    rigging : Rigging or None
        Which supports hold it; None where they have no places.
    """

    setup: SetUp
    advice: SetUpAdvice
    wires: Mapping[str, HungWire]
    low: float
    high: float
    scores: Floats
    left_out: Mapping[str, str]
    tried: int
    is_equal: bool = False
    rigging: Rigging | None = None

    @property
    def wire_m(self) -> float:
        """Most wire it takes on any band, in metres; NaN if it is no wire of ours."""
        return max((wire_used_m(each) for each in self.wires.values()), default=np.nan)


@dataclass(frozen=True)
class HangAnswer:
    """
    What to hang.

    Attributes
    ----------
    advice : Answer
        The question with the set-ups found, best first, as `tonight` answers it.
    at_hand : AtHand
        Supports, wire and space.
    found : tuple of Hung
        In the same order.
    refused : mapping of str to str
        Shapes that do not fit, with the reason.
    not_reached : tuple of str
        Shapes that were to be tried when the search was stopped.
    varied : str
        What the ranges are over, in words.
    remedies : tuple of Change
        What would make the best better.
    is_stopped : bool
        Whether the search was stopped before it was through.
    """

    advice: Answer
    at_hand: AtHand
    found: tuple[Hung, ...]
    refused: Mapping[str, str]
    not_reached: tuple[str, ...]
    varied: str
    remedies: tuple[Change, ...]
    is_stopped: bool

    @property
    def ranking(self) -> list[tuple[int, Hung]]:
        """Every shape behind its place; the best and its equals share the first."""
        first = [(1, self.found[0])]
        first += [(1, one) for one in self.found if one.is_equal]
        rest = [one for one in self.found[1:] if not one.is_equal]
        return [*first, *enumerate(rest, start=len(first) + 1)]

    @property
    def within_reach(self) -> tuple[Caution, ...]:
        """What of the shapes found hangs where it can be touched, shape by shape."""
        return reach_cautions(
            {
                one.setup.name: [
                    (wire, band_by_name(band).planning_mhz)
                    for band, wire in one.wires.items()
                ]
                for one in self.found
            }
        )


def longest(wires: Mapping[str, HungWire]) -> HungWire:
    """
    Find the band that takes most wire.

    Parameters
    ----------
    wires : mapping of str to HungWire
        As hung on each band, at least one.

    Returns
    -------
    hung : HungWire
        On that band.
    """
    return max(wires.values(), key=wire_used_m)


def gives_up(best: Hung, other: Hung) -> list[str]:
    """
    Say what another shape lacks beside the best, and what it asks for.

    Parameters
    ----------
    best, other : Hung
        The best, and the one that would be hung instead.

    Returns
    -------
    words : list of str
        Its chance first; then bands and wire where they differ.
    """
    behind = in_ten(best.advice.score - other.advice.score)
    told = ["level with it" if other.is_equal else f"{behind} in ten less"]
    lost = [band for band in best.setup.bands if band not in other.setup.bands]
    won = [band for band in other.setup.bands if band not in best.setup.bands]
    told += [f"not on {', '.join(lost)}"] if lost else []
    told += [f"on {', '.join(won)} too"] if won else []
    more_m = other.wire_m - best.wire_m
    if abs(more_m) >= 0.5:
        told.append(f"{abs(more_m):.0f} m {'more' if more_m > 0.0 else 'less'} wire")
    return told


_DIMENSIONS = {
    "height_m": "height",
    "apex_m": "apex",
    "end_m": "ends",
    "high_m": "high end",
    "low_m": "low end",
    "end_height_m": "end",
    "feed_height_m": "feed",
    "base_m": "base",
    "top_m": "top",
    "length_m": "wire",
    "radial_m": "radials of",
    "counterpoise_m": "counterpoise",
}
"""How the dimensions are said."""


def sizes_words(setup: SetUp) -> str:
    """
    Say the dimensions that differ from the default.

    Parameters
    ----------
    setup : SetUp
        A set-up.

    Returns
    -------
    words : str
        Such as ``apex 9 m``.
    """
    parts = []
    for name, value in setup.dimensions:
        if name == "feed_share":
            usual = {0.0: "fed at a corner", 0.5: "fed in the middle"}
            parts.append(usual.get(value, f"fed at {100.0 * value:.0f} %"))
        elif name == "radials_n":
            parts.append(f"{value:g} radials")
        elif name == "corners_n":
            parts.append(f"{value:g} corners")
        else:
            parts.append(
                f"{_DIMENSIONS.get(name, name.removesuffix('_m'))} {value:g} m"
            )
    return ", ".join(parts) or "default sizes"
