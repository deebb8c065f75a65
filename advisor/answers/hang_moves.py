"""
Where a search for a wire begins, and what it may change, shape by shape.

Geometry only: nothing here knows the sky. What is at hand, and what of it fits, is in
`advisor.answers.hang_supports`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from advisor.answers.hang_supports import LOW_M, AtHand, Sizes, set_up
from advisor.answers.low_wires import OUT_OF_REACH_M
from advisor.antenna.shapes.parts import LEAST_HEIGHT_M
from advisor.antenna.shapes.registry import settle
from advisor.station.bands import Band
from advisor.station.setup import EACH_BAND, GROUND_MOUNTED, shape_names
from geo.errors import InputError, near_matches

_Changes = Callable[[AtHand, float], list[Sizes]]

NOT_TRIED = MappingProxyType(
    {"free wire": "it is given point by point: put it in a station file"}
)
"""Shapes the search leaves out, and why."""

RAISED_FOOT_M = 1.0
"""Radials of a vertical lie on the ground or hang up to here; at head height they would
be a danger and higher up need supports: common practice, no source. [m]"""

_SAG_ROOM_M = 0.5
"""So much over the least height a level wire is hung, to sag in. [m]"""


def clearances(shape: str) -> tuple[float, ...]:
    """
    List the heights that live ends and lying wires are to keep, in order of trial.

    Parameters
    ----------
    shape : str
        Its name.

    Returns
    -------
    clear_m : tuple of float
        Those after the first are for supports that are too low for it; of them the
        first that lets most bands fit is taken. Lying wires count for the first only.
        An upright half-wave is out of reach or stands on the ground. [m]
    """
    if shape == "half-wave vertical":
        return (OUT_OF_REACH_M, 0.0)
    return (OUT_OF_REACH_M, LOW_M, 1.5, 1.0, 0.0)


@dataclass(frozen=True)
class Knob:
    """
    One dimension the search may change.

    Attributes
    ----------
    low, high : float
        Ends of its range.
    grain : float
        What it is rounded to: nobody hangs a wire more exactly.
    """

    low: float
    high: float
    grain: float

    def set_to(self, value: float) -> float:
        """
        Bring a value into the range, on the grain.

        Parameters
        ----------
        value : float
            Wanted.

        Returns
        -------
        value : float
            Possible.
        """
        inside = min(max(value, self.low), self.high)
        return round(min(round(inside / self.grain) * self.grain, self.high), 3)


def defaults(shape: str, bands: Sequence[Band]) -> list[Sizes]:
    """
    List the default dimensions of a shape.

    Parameters
    ----------
    shape : str
        Its name.
    bands : sequence of Band
        Bands asked about.

    Returns
    -------
    sizes : list of dict
        Nothing given, if it is cut for each band; else one length for every band it
        may be meant for at lowest.
    """
    if shape == GROUND_MOUNTED or set_up(shape, {}, ("20 m",), True).cut == EACH_BAND:
        return [{}]
    usual = [settle(shape, band.planning_mhz)["length_m"] for band in bands]
    return [{"length_m": length_m} for length_m in usual]


def own_lengths(shape: str, at_hand: AtHand) -> list[Sizes]:
    """
    List lengths that use the wire and the gap there are.

    Parameters
    ----------
    shape : str
        Its name.
    at_hand : AtHand
        Supports, wire and space.

    Returns
    -------
    sizes : list of dict
        Empty for a shape that is cut for each band, or without a limit.
    """
    if "length_m" not in knobs(shape, at_hand):
        return []
    limits = [0.95 * at_hand.apart_m] if at_hand.apart_m is not None else []
    if at_hand.wire_m is not None:
        # The rest is for what it is fed against.
        limits += [0.98 * at_hand.wire_m, 0.8 * at_hand.wire_m]
    return [{"length_m": round(length_m, 1)} for length_m in limits]


def changes(
    shape: str, at_hand: AtHand, clear_m: float = OUT_OF_REACH_M
) -> list[Sizes]:
    """
    List changes to the defaults that are worth a try with what is at hand.

    Parameters
    ----------
    shape : str
        Its name.
    at_hand : AtHand
        Supports, wire and space.
    clear_m : float, optional
        Height that live ends and lying wires are to keep. [m]

    Returns
    -------
    changes : list of dict
        Dimensions to set; whether they fit is not looked at.
    """
    tried = _CHANGES[shape](at_hand, max(clear_m, LEAST_HEIGHT_M))
    # Supports that are low make some of them the same.
    return [one for k, one in enumerate(tried) if one not in tried[:k]]


def knobs(
    shape: str, at_hand: AtHand, clear_m: float = OUT_OF_REACH_M
) -> dict[str, Knob]:
    """
    List the dimensions a search may change.

    Parameters
    ----------
    shape : str
        Its name.
    at_hand : AtHand
        Supports and wire, which bound them.
    clear_m : float, optional
        Height that live ends and lying wires are to keep. [m]

    Returns
    -------
    knobs : dict of str to Knob
        By dimension, those that matter most first.
    """
    top, pair = at_hand.heights_m[0], at_hand.pair_m
    low = max(clear_m, LEAST_HEIGHT_M)
    longest = min(at_hand.wire_m or 200.0, 200.0)
    if shape == "doublet":
        longest = min(0.95 * (at_hand.apart_m or 2.0 * longest), longest)
    feed = (low, pair, 0.1)
    if shape == "half-wave vertical":
        feed = (low, max(low, RAISED_FOOT_M), 0.1)
    elif "vertical" in shape or shape == "inverted L":
        feed = (0.1, RAISED_FOOT_M, 0.1)
    ranges: dict[str, tuple[float, float, float]] = {
        "height_m": (low, pair, 0.1),
        "apex_m": (low, top, 0.1),
        "end_m": (low, top, 0.1),
        "high_m": (low, top, 0.1),
        "low_m": (low, top, 0.1),
        "end_height_m": (low, top, 0.1),
        "feed_height_m": feed,
        "base_m": (low, 0.6 * top, 0.1),
        "top_m": (1.0, min(at_hand.apart_m or longest, longest), 0.1),
        "length_m": (2.0, longest, 0.1),
        "feed_share": (0.1, 0.5, 0.05),
    }
    return {
        name: Knob(low, max(low, high), grain)
        for name, (low, high, grain) in ranges.items()
        if name in _TURNED[shape]
    }


_TURNED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "dipole": ("height_m", "feed_share"),
        "inverted V": ("apex_m", "end_m"),
        "sloper": ("high_m", "low_m"),
        "end-fed half-wave": ("end_height_m", "feed_height_m", "length_m"),
        "inverted L": ("height_m", "feed_height_m"),
        "quarter-wave vertical": ("feed_height_m",),
        "half-wave vertical": ("feed_height_m",),
        "half-square": ("height_m", "top_m"),
        "bottom-fed half-square": ("height_m", "top_m"),
        "doublet": ("height_m", "length_m", "feed_share"),
        "horizontal loop": ("height_m",),
        "delta loop": ("apex_m", "base_m", "feed_share"),
        "random wire": ("end_height_m", "feed_height_m", "length_m"),
        GROUND_MOUNTED: (),
    }
)
"""Dimensions that are searched, shape by shape."""


def _level(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """Level wires: all heights up to the lower of two supports."""
    pair = at_hand.pair_m
    least_m = min(pair, clear_m + _SAG_ROOM_M)
    return [{"height_m": round(max(pair * share, least_m), 1)} for share in _LADDER]


def _sloping(upper: str, lower: str) -> _Changes:
    """Wires that slope: from the top, down to several heights."""

    def tried(at_hand: AtHand, clear_m: float) -> list[Sizes]:
        top = at_hand.heights_m[0]
        ends = [
            {upper: top, lower: round(max(top * share, clear_m), 1)}
            for share in (0.75, 0.5, 0.25)
        ]
        return [{upper: top}, *ends]

    return tried


def _end_fed(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """End-fed wires: from as low as may be, and level if there are two supports."""
    top, pair = at_hand.heights_m[0], at_hand.pair_m
    tried: list[Sizes] = [{"end_height_m": top, "feed_height_m": clear_m}]
    if len(at_hand.heights_m) > 1:
        tried.append({"end_height_m": top, "feed_height_m": pair})
    return tried


def _standing(at_hand: AtHand, _: float) -> list[Sizes]:
    """Quarter-wave verticals: on the ground and raised; fewer radials if need be."""
    return [{"feed_height_m": RAISED_FOOT_M}, *_fewer_radials(at_hand, {})]


def _standing_live(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """Half-wave verticals, live at the foot: out of reach, or on the ground."""
    foot: Sizes = {"feed_height_m": clear_m}
    return [foot, *_fewer_radials(at_hand, foot)]


def _fewer_radials(at_hand: AtHand, sizes: Sizes) -> list[Sizes]:
    """Add sizes with fewer radials, if wire is short."""
    if at_hand.wire_m is None:
        return []
    return [{**sizes, "radials_n": n} for n in (2.0, 1.0)]


def _inverted_l(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """Inverted L: as high as it goes, and lower; with fewer radials too."""
    tried: list[Sizes] = _level(at_hand, clear_m)[:2]
    # On high bands the whole wire is not much longer than this.
    tried.append({"height_m": round(min(at_hand.pair_m, clear_m + 0.1), 1)})
    if at_hand.wire_m is not None:
        tried += [{**one, "radials_n": 2.0} for one in tried]
    return tried


def _three_sided(at_hand: AtHand, _: float) -> list[Sizes]:
    """Level top, hanging ends: at full height, top as the supports allow."""
    tried: list[Sizes] = [{"height_m": at_hand.pair_m}]
    if at_hand.apart_m is not None:
        tried += [{"height_m": at_hand.pair_m, "top_m": at_hand.apart_m}]
    return tried


def _loop(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """Level loop: as many corners as there are supports, at several heights."""
    there = at_hand.heights_m
    corners = min(max(len(there), 3), 4)
    held = there[min(corners, len(there)) - 1]
    return [
        {
            "height_m": round(max(held * share, min(held, clear_m)), 1),
            "corners_n": float(corners),
        }
        for share in _LADDER
    ]


def _delta(at_hand: AtHand, clear_m: float) -> list[Sizes]:
    """Triangle: apex at the top, base low, fed in the middle or at a corner."""
    top = at_hand.heights_m[0]
    return [
        {"apex_m": top, "base_m": round(base, 1), "feed_share": share}
        for base in (clear_m, max(clear_m, 0.4 * top))
        for share in (0.5, 0.0)
    ]


_LADDER = (1.0, 0.65, 0.4)
"""Shares of the height there is that a level wire is first tried at."""

_CHANGES: Mapping[str, _Changes] = MappingProxyType(
    {
        "dipole": _level,
        "inverted V": _sloping("apex_m", "end_m"),
        "sloper": _sloping("high_m", "low_m"),
        "end-fed half-wave": _end_fed,
        "inverted L": _inverted_l,
        "quarter-wave vertical": _standing,
        "half-wave vertical": _standing_live,
        "half-square": _three_sided,
        "bottom-fed half-square": _three_sided,
        "doublet": _level,
        "horizontal loop": _loop,
        "delta loop": _delta,
        "random wire": _end_fed,
        GROUND_MOUNTED: lambda *_: [],
    }
)
"""What is tried first, shape by shape."""


def shapes_to_try(names: Sequence[str] = ()) -> tuple[str, ...]:
    """
    List the shapes to try.

    Parameters
    ----------
    names : sequence of str, optional
        Those asked for; all by default.

    Returns
    -------
    shapes : tuple of str
        In the order of the registry, or as asked.

    Raises
    ------
    geo.errors.InputError
        If a shape is unknown or cannot be searched.
    """
    by_fold = {name.casefold(): name for name in shape_names()}
    chosen = []
    for name in names:
        folded = " ".join(name.split()).casefold()
        if folded not in by_fold:
            hint = near_matches(name, by_fold.values())
            raise InputError(
                f"no shape is called '{name}'{f' ({hint})' if hint else ''}: known are "
                f"{', '.join(_CHANGES)}"
            )
        if by_fold[folded] in NOT_TRIED:
            raise InputError(f"{by_fold[folded]}: {NOT_TRIED[by_fold[folded]]}")
        chosen.append(by_fold[folded])
    return tuple(dict.fromkeys(chosen)) or tuple(_CHANGES)
