"""
The library's edge: what comes with a unit or a time scale becomes plain here.

Inside the project a number is a float in the unit its name ends in and a time is a
`numpy.datetime64` in UTC. A notebook may hold astropy quantities, astropy times,
pandas timestamps and places of several kinds. They are told by the name of the module
their class is from, so that no package is imported unless the caller has done so.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from advisor.station.checks import shown
from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from geo.arrays import Times

UNITS_BY_SUFFIX = {
    "_mhz": "MHz",
    "_ohm": "Ohm",
    "_deg": "deg",
    "_hz": "Hz",
    "_km": "km",
    "_mm": "mm",
    "_db": "dB",
    "_m": "m",
    "_w": "W",
}
"""Unit that the end of a name stands for, as astropy writes it."""

SFU = "1e-22 W m-2 Hz-1"
"""Solar flux unit, as astropy reads it."""

_UNITS_BY_NAME = {"horizon": "deg", "flux": SFU, "hours": "h"}
"""Names without a suffix that stand for something with a unit."""

_ROUND_TO_NS = 1_000_000
"""Times are rounded to a millisecond before they are cut to a second: scales of
astropy turn into each other to some tens of picoseconds, and an hour must not become
the one before."""


def unit_of(name: str) -> str:
    """
    Say in which unit a named value is held.

    Parameters
    ----------
    name : str
        Name of a key or a parameter.

    Returns
    -------
    unit : str
        As astropy writes it; empty for a ratio or a count.

    Examples
    --------
    >>> unit_of("height_m"), unit_of("wire_mm"), unit_of("feed_share")
    ('m', 'mm', '')
    """
    if name in _UNITS_BY_NAME:
        return _UNITS_BY_NAME[name]
    for suffix, unit in UNITS_BY_SUFFIX.items():
        if name.endswith(suffix):
            return unit
    return ""


def is_from(value: object, package: str) -> bool:
    """
    Tell whether a value is of a class that a package defines, without importing it.

    Parameters
    ----------
    value : object
        What came.
    package : str
        Name of the package.

    Returns
    -------
    is_from : bool
        True for a class derived from one of the package's, too.

    Examples
    --------
    >>> import numpy as np
    >>> is_from(np.float64(1.0), "numpy"), is_from(1.0, "numpy")
    (True, False)
    """
    return any(kind.__module__.split(".")[0] == package for kind in type(value).__mro__)


def plain(value: Any, name: str) -> Any:
    """
    Turn a value, or a nesting of them, into plain numbers in the unit of its name.

    Parameters
    ----------
    value : object
        Plain values; astropy quantities; numpy numbers and arrays; lists, tuples and
        mappings of them. Anything else is given back as it is, for the checks of the
        station to judge.
    name : str
        Name of the key or the parameter; its end says the unit.

    Returns
    -------
    value : object
        Floats, integers, texts, lists and dicts of the same layout.

    Raises
    ------
    InputError
        If a quantity is of another kind than the name says: a mass for a length.

    Examples
    --------
    >>> import astropy.units as u
    >>> plain(750 * u.cm, "height_m")
    7.5
    >>> plain(5 * u.kg, "height_m")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    geo.errors.InputError: height_m came in kg (mass): give it in m or another unit...
    """
    if is_from(value, "astropy"):
        return _plain_quantity(value, name)
    if is_from(value, "numpy") and hasattr(value, "tolist"):
        return value.tolist()
    if isinstance(value, Mapping):
        return {key: plain(each, str(key)) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each, name) for each in value]
    return value


def _plain_quantity(value: Any, name: str) -> Any:
    """Take the unit of an astropy quantity off."""
    unit = unit_of(name)
    told = "sfu (1e-22 W m-2 Hz-1)" if unit == SFU else unit
    try:
        return value.to_value(unit).tolist()
    except (ValueError, TypeError, AttributeError):
        # astropy's own errors of conversion are among the first two.
        came = getattr(value, "unit", None)
    if came is None:
        raise InputError(
            f"{name}: {shown(value)} is not allowed: give a number"
            f"{f' of {told}' if unit else ''} or a quantity"
        )
    wanted = f"in {told} or another unit of that kind" if unit else "without a unit"
    raise InputError(
        f"{name} came {f'in {came} ' if str(came) else ''}({came.physical_type}): give "
        f"it {wanted}, or as a plain number{f' of {told}' if unit else ''}"
    )


def plain_number(value: Any, name: str) -> float | None:
    """
    Turn one value into a float in the unit of its name.

    Parameters
    ----------
    value : object
        A number, a numpy number or an astropy quantity; None stays None.
    name : str
        Name of the parameter; its end says the unit.

    Returns
    -------
    number : float or None
        In that unit.

    Raises
    ------
    InputError
        If it is no single number, or of another kind than the name says.

    Examples
    --------
    >>> plain_number(3, "power_w")
    3.0
    """
    found = plain(value, name)
    if found is None:
        return None
    if isinstance(found, bool) or not isinstance(found, int | float):
        unit = unit_of(name)
        raise InputError(
            f"{name}: {shown(value)} is not allowed: give one number"
            f"{f' of {unit}' if unit else ''}"
        )
    return float(found)


def place_text(value: Any, name: str = "place") -> str:
    """
    Write a place of any kind as `geo.places.parse_place` reads it.

    Parameters
    ----------
    value : object
        A text; a pair of latitude and longitude, as numbers of degrees, as astropy
        angles or as an array; an astropy ``EarthLocation``, whose height above the sea
        is of no account; or a `geo.places.Place`.
    name : str, optional
        What the place is of, for the error text.

    Returns
    -------
    text : str
        Coordinates to 1e-6 degrees, some 10 cm.

    Raises
    ------
    InputError
        If it is none of these, or an angle is of another kind.

    Examples
    --------
    >>> place_text((-21.5, 165.25))
    '-21.5,165.25'
    """
    if isinstance(value, str):
        return value
    if is_from(value, "astropy") and hasattr(value, "geodetic"):
        value = (value.lat, value.lon)
    elif hasattr(value, "lat_deg") and hasattr(value, "lon_deg"):
        value = (value.lat_deg, value.lon_deg)
    elif getattr(value, "shape", ()) == (2,):
        value = tuple(value)
    if isinstance(value, Sequence) and len(value) == 2:
        named = zip(value, ("latitude_deg", "longitude_deg"), strict=True)
        found = [plain_number(each, axis) for each, axis in named]
        if all(each is not None and math.isfinite(each) for each in found):
            return ",".join(_short(each) for each in found if each is not None)
    raise InputError(
        f"{name}: {shown(value)} is not allowed: give a locator or 'lat,lon' as text, "
        "or a pair (latitude, longitude) in degrees"
    )


def _short(degrees: float) -> str:
    """Write degrees without an exponent and without zeros behind."""
    return f"{degrees:.6f}".rstrip("0").rstrip(".")


def utc_time(value: Any, name: str = "start") -> np.datetime64:
    """
    Turn one moment of any kind into UTC.

    Parameters
    ----------
    value : object
        A text as on the command line: ``"2026-12-05"`` or ``"2026-12-05T18:00Z"``; a
        `datetime.datetime` or a pandas ``Timestamp`` with its zone; a `datetime.date`,
        which starts at 00 UTC; a `numpy.datetime64`, which is taken to be UTC; or an
        astropy ``Time`` of any scale but ``local``.
    name : str, optional
        What the moment is of, for the error text.

    Returns
    -------
    moment : numpy.datetime64
        UTC, to the second.

    Raises
    ------
    InputError
        If it is no single moment, or does not say its zone: a guess would be wrong by
        hours.

    Notes
    -----
    astropy's own tables of the Earth's rotation are used whatever their age; nothing is
    fetched.

    Examples
    --------
    >>> from datetime import datetime, timedelta, timezone
    >>> utc_time(datetime(2026, 12, 5, 20, tzinfo=timezone(timedelta(hours=2))))
    np.datetime64('2026-12-05T18:00:00')
    """
    import numpy as np

    if is_from(value, "astropy"):
        return _from_astropy(value, name)
    if is_from(value, "pandas") and hasattr(value, "tz_convert") and value == value:
        if value.tzinfo is None:
            raise _zoneless(name, value)
        return _to_second(value.tz_convert("UTC").tz_localize(None).to_datetime64())
    if isinstance(value, np.datetime64):
        if np.isnat(value):
            raise _no_moment(name, value)
        return _to_second(value)
    given = value
    if isinstance(value, str):
        value = _from_text(value, name)
    elif isinstance(value, date) and not isinstance(value, datetime):
        value = datetime(value.year, value.month, value.day, tzinfo=UTC)
    if not isinstance(value, datetime) or value != value:
        raise _no_moment(name, given)
    if value.tzinfo is None:
        raise _zoneless(name, given)
    try:
        moment = value.astimezone(UTC)
    except OverflowError:
        raise _no_moment(name, given) from None
    return np.datetime64(moment.replace(tzinfo=None), "s")


def utc_times(values: Any, name: str = "times") -> Times:
    """
    Turn one moment or several of any kind into UTC.

    Parameters
    ----------
    values : object or sequence of object
        What `utc_time` takes, alone, in a list, or as an array or index of the package
        it is from.
    name : str, optional
        What they are of, for the error text.

    Returns
    -------
    moments : numpy.ndarray of datetime64[s]
        Shape (T,).

    Raises
    ------
    InputError
        As `utc_time` does.

    Examples
    --------
    >>> utc_times(["2026-12-05", "2027-01-05T06:00Z"]).astype("datetime64[h]")
    array(['2026-12-05T00', '2027-01-05T06'], dtype='datetime64[h]')
    """
    import numpy as np

    is_many = isinstance(values, list | tuple) or getattr(values, "shape", ()) != ()
    found = [utc_time(each, name) for each in (values if is_many else [values])]
    return np.array(found, dtype="datetime64[s]")


def _from_text(text: str, name: str) -> datetime:
    """Read a moment as the command line does: a date alone starts at 00 UTC."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise _no_moment(name, text) from None
    if moment.tzinfo is None and "T" not in text and " " not in text:
        return moment.replace(tzinfo=UTC)
    return moment


def _from_astropy(value: Any, name: str) -> np.datetime64:
    """Turn an astropy time into UTC with the tables at hand."""
    if (
        not hasattr(value, "scale")
        or getattr(value, "shape", None) != ()
        or value.masked
    ):
        raise _no_moment(name, value)
    if value.scale == "local":
        raise _zoneless(name, value)
    from astropy.utils import iers

    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        warnings.catch_warnings(),
    ):
        # Leap seconds to come are not known: a second is nothing here.
        warnings.simplefilter("ignore", UserWarning)
        try:
            return _to_second(value.utc.datetime64)
        except (ValueError, IndexError) as error:
            raise InputError(
                f"{name}: {shown(value)} is not allowed: astropy cannot turn it into "
                f"UTC ({' '.join(str(error).split())[:80]}); give another moment"
            ) from None


def _to_second(moment: np.datetime64) -> np.datetime64:
    """Cut to the second, after rounding to the millisecond what is finer."""
    import numpy as np

    if np.datetime_data(moment.dtype)[0] in ("ns", "ps", "fs", "as"):
        moment = moment.astype("datetime64[ns]") + np.timedelta64(
            _ROUND_TO_NS // 2, "ns"
        )
        moment = moment.astype("datetime64[ms]")
    cut: np.datetime64 = moment.astype("datetime64[s]")
    return cut


def _no_moment(name: str, value: object) -> InputError:
    """Word the error for what is no single moment."""
    return InputError(
        f"{name}: {shown(value)} is no date: give one moment, such as 2026-12-05, "
        "2026-12-05T18:00Z or a datetime with its zone"
    )


def _zoneless(name: str, value: object) -> InputError:
    """Word the error for a time of day without a zone."""
    return InputError(
        f"{name}: {shown(value)} does not say in which zone: add Z for UTC or an "
        "offset such as +02:00 to a text, tzinfo to a datetime"
    )
