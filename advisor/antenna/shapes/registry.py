"""
Named shapes: every entry gathered, and what is hung by name.

Each shape is one function, from its dimensions to a `HungWire`, and one entry beside
it: the list, the help, the dispatch and all that other modules ask of it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from advisor.antenna.shapes import loops, three_sided, upright
from advisor.antenna.shapes import open as open_wires
from advisor.antenna.shapes.dimensions import Settling
from advisor.antenna.shapes.parts import LIGHT_M_MHZ, Conductor, HungWire
from advisor.antenna.shapes.spec import ShapeSpec
from advisor.antenna.wires import Point
from geo.errors import InputError, near_matches

SHAPES: Mapping[str, ShapeSpec] = {
    **open_wires.SHAPES,
    **upright.SHAPES,
    **three_sided.SHAPES,
    **loops.SHAPES,
}
"""Every shape by name."""


def hang(
    shape: str,
    lowest_mhz: float,
    dimensions: Mapping[str, float] | None = None,
    *,
    points_m: Sequence[Point] = (),
    conductor: Conductor | None = None,
) -> HungWire:
    """
    Make a shape by name; dimensions left out take their defaults.

    Parameters
    ----------
    shape : str
        A name in `SHAPES`; capitals do not matter.
    lowest_mhz : float
        Lowest frequency it is meant for, which sets the defaults. [MHz]
    dimensions : mapping of str to float, optional
        Those that are not the default.
    points_m : sequence of tuple of float, optional
        East, north and up of each point, for a shape that takes them. [m]
    conductor : Conductor, optional
        What it is made of; bare copper of 2 mm across by default.

    Returns
    -------
    hung : HungWire
        Wires, feedpoint and supports, under the name asked for.

    Raises
    ------
    geo.errors.InputError
        If shape or dimension is unknown, out of its limits, or does not fit.

    Examples
    --------
    >>> hung = hang("dipole", 7.1, {"height_m": 8.0})
    >>> round(hung.length_m, 2), hung.tall_supports[0].height_m
    (20.31, 8.0)
    """
    name = known_shape(shape)
    spec = SHAPES[name]
    sizes = settle(name, lowest_mhz, dimensions)
    if bool(points_m) != spec.takes_points:
        needs = "needs its points" if spec.takes_points else "takes no points"
        raise InputError(f"{name}: {needs} as east, north and up in metres")
    wire = conductor or Conductor()
    where = (points_m,) if spec.takes_points else ()
    try:
        hung = spec.function(*where, **sizes, conductor=wire)
    except InputError as error:
        raise InputError(f"{name}: {error}") from None
    return replace(hung, shape=name)


def settle(
    shape: str, lowest_mhz: float, dimensions: Mapping[str, float] | None = None
) -> dict[str, float]:
    """
    Fill in the dimensions of a shape that were left out.

    Parameters
    ----------
    shape : str
        A name in `SHAPES`; capitals do not matter.
    lowest_mhz : float
        Lowest frequency it is meant for. [MHz]
    dimensions : mapping of str to float, optional
        Those that were given.

    Returns
    -------
    sizes : dict of str to float
        Every dimension, in the order of the shape. [m]

    Raises
    ------
    geo.errors.InputError
        If shape or dimension is unknown or out of its limits.

    Examples
    --------
    A wire of 24 m with a level top: half of it is top, the ends clear the ground.

    >>> sizes = settle("half-square", 14.1, {"length_m": 24.0})
    >>> sizes["top_m"], sizes["height_m"]
    (12.0, 6.6)
    """
    name = known_shape(shape)
    if not 0.0 < lowest_mhz < math.inf:
        raise InputError(f"frequency {lowest_mhz} MHz is not positive; HF is 1.8 to 54")
    given = dict(dimensions or {})
    for key, value in given.items():
        _check_dimension(name, key, value)
    known = SHAPES[name].dimensions
    settled = Settling(LIGHT_M_MHZ / lowest_mhz, known, given)
    return {key: settled[key] for key in known}


def known_shape(shape: str) -> str:
    """
    Find the name of a shape that was typed.

    Parameters
    ----------
    shape : str
        As typed; capitals, blanks and hyphens do not matter. What people call only
        one shape will do.

    Returns
    -------
    name : str
        As in `SHAPES`.

    Raises
    ------
    geo.errors.InputError
        If there is none, with near matches.
    """
    found = shapes_called(shape)
    if len(found) != 1:
        hint = near_matches(shape, found or SHAPES, also_called())
        raise InputError(
            f"no shape is called '{shape}'; {hint or 'use one of these'} (known: "
            f"{', '.join(SHAPES)})"
        )
    return found[0]


def shapes_called(word: str) -> tuple[str, ...]:
    """
    List the shapes that go by a name.

    Parameters
    ----------
    word : str
        As typed; capitals, blanks and hyphens do not matter.

    Returns
    -------
    names : tuple of str
        The one of that name; else those that people call so, none or several.

    Examples
    --------
    >>> shapes_called("EFHW"), shapes_called("loop")
    (('end-fed half-wave',), ('horizontal loop', 'delta loop'))
    """
    asked = _plain(word)
    named = tuple(name for name in SHAPES if _plain(name) == asked)
    return named or tuple(n for n, each in SHAPES.items() if asked in each.synonyms)


def also_called() -> dict[str, tuple[str, ...]]:
    """
    List what people call the shapes besides their names.

    Returns
    -------
    meant : dict of str to tuple of str
        For each word, in small letters with single blanks, the shapes it may mean.
    """
    words: dict[str, tuple[str, ...]] = {}
    for name, spec in SHAPES.items():
        for word in spec.synonyms:
            words[word] = (*words.get(word, ()), name)
    return words


def _plain(word: str) -> str:
    """Put a name in small letters with single blanks."""
    return " ".join(re.split(r"[-_\s]+", word.casefold().strip()))


def _check_dimension(shape: str, key: str, value: float) -> None:
    """Raise unless the shape has the dimension and the value is allowed."""
    known = SHAPES[shape].dimensions
    if key not in known:
        hint = near_matches(key, known) or "use one of these"
        raise InputError(
            f"{shape}: no dimension '{key}'; {hint} (known: {', '.join(known)})"
        )
    dimension = known[key]
    if not dimension.low <= value <= dimension.high:
        unit = "" if dimension.unit == "1" else f" {dimension.unit}"
        raise InputError(
            f"{shape}: {key} is {value:g}{unit} and must be {dimension.low:g} to "
            f"{dimension.high:g}{unit}"
        )
