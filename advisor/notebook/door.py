"""Functions of arrays as the front door gives them: units and times of any kind in."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from inspect import signature
from typing import Any, TypeVar

import numpy as np

from advisor.notebook.coerce import is_from, plain, utc_times

Found = TypeVar("Found")


def at_the_door(function: Callable[..., Found]) -> Callable[..., Found]:
    """
    Let a function of plain arrays take astropy quantities and moments of any kind.

    Parameters
    ----------
    function : callable
        Its parameters are named by their units; ``times`` is in UTC.

    Returns
    -------
    function : callable
        The same, but that a quantity is turned into the unit of its name or refused,
        and that ``times`` are what `advisor.notebook.coerce.utc_times` takes.

    Examples
    --------
    >>> import astropy.units as u
    >>> from geo.ionosphere.hops import takeoff_angle_deg
    >>> at_the_door(takeoff_angle_deg)(1000.0 * u.km, 300e3 * u.m).round(1)
    np.float64(28.1)
    """
    form = signature(function)

    @wraps(function)
    def called(*values: Any, **named: Any) -> Found:
        given = form.bind(*values, **named)
        for name, value in given.arguments.items():
            if name == "times":
                given.arguments[name] = _moments(value)
            elif _has_units(value):
                given.arguments[name] = np.asarray(plain(value, name))
        return function(*given.args, **given.kwargs)

    return called


def _has_units(value: Any) -> bool:
    """Whether a value, or one in a list of them, is of astropy."""
    if isinstance(value, list | tuple):
        return any(map(_has_units, value))
    return is_from(value, "astropy")


def _moments(value: Any) -> Any:
    """Turn times into UTC; those of numpy are it."""
    if getattr(getattr(value, "dtype", None), "kind", "") == "M" and not hasattr(
        value, "tz"
    ):
        return value
    return utc_times(value)
