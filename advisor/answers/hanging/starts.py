"""
Where a search for what to hang begins, and what it may change.

What each shape may change stands in its entry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.answers.low_wires import OUT_OF_REACH_M
from advisor.antenna.shapes.parts import LEAST_HEIGHT_M
from advisor.antenna.shapes.registry import SHAPES, known_shape, settle
from advisor.antenna.shapes.search import AtHand, Sizes
from advisor.station.bands import Band
from geo.errors import InputError


def not_tried() -> dict[str, str]:
    """
    List the shapes the search leaves out.

    Returns
    -------
    why : dict of str to str
        By name.
    """
    why = "it is given point by point: put it in a station file"
    return {name: why for name, spec in SHAPES.items() if spec.takes_points}


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
        [m]
    """
    return (OUT_OF_REACH_M, *SHAPES[shape].lower_m)


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
    if SHAPES[shape].is_resonant:
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
    if "length_m" not in SHAPES[shape].searched:
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
    List changes to the defaults that use what is at hand.

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
    starts, top = SHAPES[shape].starts, SHAPES[shape].top
    tried = starts(at_hand, max(clear_m, LEAST_HEIGHT_M)) if starts else []
    if not any(top in one for one in tried):
        # What stands on the ground is tried as it is; the rest hangs as high as it can.
        tried = [{}, *tried]
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
    spec, low_m = SHAPES[shape], max(clear_m, LEAST_HEIGHT_M)
    found = {}
    for name, ends in spec.searched.items():
        low, high = ends(at_hand, low_m) if callable(ends) else ends
        grain = 0.1 if spec.dimensions[name].unit == "m" else 0.05
        found[name] = Knob(low, max(low, high), grain)
    return found


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
    left_out = not_tried()
    chosen = [known_shape(name) for name in names]
    for name in chosen:
        if name in left_out:
            raise InputError(f"{name}: {left_out[name]}")
    return tuple(dict.fromkeys(chosen)) or tuple(
        name for name in SHAPES if name not in left_out
    )
