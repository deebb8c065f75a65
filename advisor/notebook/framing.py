"""What the functions that return frames share: rows, names and numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from advisor.notebook.coerce import is_from, plain, plain_number
from advisor.station.checks import shown
from geo.errors import InputError, near_matches
from geo.fields import as_mapping

if TYPE_CHECKING:
    import pandas as pd

Directory = str | Path | None
"""Where solved wires and rays are kept between runs; None for nowhere."""


def directory(cache_dir: Directory) -> Path | None:
    """
    Turn the name of a directory into a path.

    Parameters
    ----------
    cache_dir : str, pathlib.Path or None
        What came.

    Returns
    -------
    path : pathlib.Path or None
        The same as a path.
    """
    return None if cache_dir is None else Path(cache_dir)


def frame_of(rows: Sequence[Any]) -> pd.DataFrame:
    """
    Put rows into a frame.

    Parameters
    ----------
    rows : sequence of record or mapping
        Rows with the same fields.

    Returns
    -------
    frame : pandas.DataFrame
        Fields as columns.
    """
    import pandas as pd

    return pd.DataFrame([as_mapping(row) for row in rows])


def by_hour(rows: Sequence[Any]) -> pd.DataFrame:
    """
    Put rows into a frame whose index is their hour.

    Parameters
    ----------
    rows : sequence of record or mapping
        Each with ``utc``, a text that ends in Z.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``, with its zone; the other keys as columns.

    Examples
    --------
    >>> by_hour([{"utc": "2026-12-05T18:00Z", "muf_mhz": 21.0}]).index[0].isoformat()
    '2026-12-05T18:00:00+00:00'
    """
    import pandas as pd

    frame = frame_of(rows)
    frame.index = pd.DatetimeIndex(pd.to_datetime(frame.pop("utc"), utc=True))
    frame.index.name = "utc"
    return frame


def flat_frame(rows: Sequence[Any]) -> pd.DataFrame:
    """
    Put rows into a frame without what is nested in any of them.

    Parameters
    ----------
    rows : sequence of record or mapping
        Rows with the same fields.

    Returns
    -------
    frame : pandas.DataFrame
        Fields as columns; None has become NaN.

    Examples
    --------
    >>> flat_frame([{"wire_deg": None, "two": {}}, {"wire_deg": 5.0, "two": None}])
       wire_deg
    0       NaN
    1       5.0
    """
    import pandas as pd

    told = [as_mapping(row) for row in rows]
    nested = {
        key
        for row in told
        for key, value in row.items()
        if isinstance(value, Mapping | list | tuple)
    }
    return pd.DataFrame(
        [
            {
                key: float("nan") if value is None else value
                for key, value in row.items()
                if key not in nested
            }
            for row in told
        ]
    )


def listed(names: str | Iterable[str], what: str = "names") -> tuple[str, ...]:
    """
    Accept several names, or one alone.

    Parameters
    ----------
    names : str or iterable of str
        What came.
    what : str, optional
        What they are names of, for the error text.

    Returns
    -------
    names : tuple of str
        All of them.

    Raises
    ------
    InputError
        If one is no text.

    Examples
    --------
    >>> listed("20 m")
    ('20 m',)
    """
    found = (names,) if isinstance(names, str) else names
    if not isinstance(found, Iterable) or is_from(found, "astropy"):
        raise _no_names(names, what)
    several = tuple(found)
    if not all(isinstance(name, str) for name in several):
        raise _no_names(names, what)
    return several


def _no_names(names: object, what: str) -> InputError:
    """Word the error for what is no name."""
    return InputError(
        f"{what}: {shown(names)} is not allowed: give a name as text, or several"
    )


def numbers(values: Any, name: str) -> list[float]:
    """
    Accept several numbers, or one alone, in the unit of their name.

    Parameters
    ----------
    values : float, sequence of float, or astropy quantity
        What came.
    name : str
        Name of one of them; its end says the unit.

    Returns
    -------
    numbers : list of float
        In that unit.

    Raises
    ------
    InputError
        If one is no number, or of another kind than the name says.

    Examples
    --------
    >>> import astropy.units as u
    >>> numbers([1, 2] * u.Mm, "hop_km")
    [1000.0, 2000.0]
    """
    found = plain(values, name)
    each = [
        plain_number(one, name)
        for one in (found if isinstance(found, list) else [found])
    ]
    return [one for one in each if one is not None]


def place_of(name: str, names: Sequence[str], what: str) -> int:
    """
    Find a name among those there are.

    Parameters
    ----------
    name : str
        The name wanted.
    names : sequence of str
        Those there are.
    what : str
        What they are names of, for the error text.

    Returns
    -------
    place : int
        Where it stands.

    Raises
    ------
    InputError
        If it is none of them.

    Examples
    --------
    >>> place_of("sloper", ["dipole", "sloper"], "set-up")
    1
    """
    if name in names:
        return list(names).index(name)
    hint = near_matches(name, names)
    raise InputError(
        f"{what} '{name}' is unknown: there is {', '.join(map(repr, names))}"
        + (f"; {hint}" if hint else "")
    )
