"""What a wire does as pandas frames, for notebooks: figures, feed, pattern."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from advisor.notebook.coerce import plain_number
from advisor.notebook.framing import (
    Directory,
    directory,
    frame_of,
    listed,
    numbers,
    place_of,
)
from advisor.station.bands import Band, band_by_name
from advisor.station.setup import SetUp
from advisor.station.station import Station
from geo.errors import InputError
from geo.fields import as_mapping

if TYPE_CHECKING:
    import pandas as pd

    from advisor.engine.wires import BandSolution


def wire_figures(
    station: Station,
    bands: str | Iterable[str] = (),
    *,
    setup: str | None = None,
    takeoffs_deg: Sequence[float] | None = None,
    quick: bool = False,
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Figures of a wire, band by band: the rows of ``skiplobe wire --json``.

    Parameters
    ----------
    station : Station
        From `advisor.make_station`.
    bands : str or iterable of str, optional
        Bands to look at; all that the set-up is used on if left out.
    setup : str, optional
        Which of several set-ups; the first if left out.
    takeoffs_deg : sequence of float or astropy quantity, optional
        Angles at which the gain is told; the usual ones if left out. [deg]
    quick : bool, optional
        Exposure by a far-field formula and no other kinds of ground.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``band``: lengths, heights, feed, losses, gain, verdict, the distance to
        keep people away (an estimate). ``attrs["refused"]`` says why a band is missing.

    Raises
    ------
    InputError
        If the set-up is not used on a band, or cannot be hung on any.

    Examples
    --------
    >>> from advisor import make_station, make_wire
    >>> station = make_station("KF07jo", setups=make_wire("ground-mounted vertical"))
    >>> wire_figures(station, "20 m", quick=True).loc["20 m", "verdict"]
    'DX'
    """
    from advisor.answers.rows.wire import wire_rows
    from advisor.answers.wire import wire_work
    from advisor.answers.wire_sky import TAKEOFFS_DEG

    angles: Sequence[float] = TAKEOFFS_DEG
    if takeoffs_deg is not None:
        angles = tuple(sorted(set(numbers(takeoffs_deg, "takeoff_deg"))))
    work = wire_work(
        station,
        _set_up(station, setup),
        [_band(station, name).name for name in listed(bands, "bands")],
        takeoffs_deg=angles,
        quick=quick,
        cache_dir=directory(cache_dir),
    )
    frame = frame_of(wire_rows([work])).set_index("band")
    frame.attrs["refused"] = dict(work.refused)
    return frame


def feed_by_frequency(
    station: Station,
    band: str,
    *,
    setup: str | None = None,
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Feedpoint and SWR over a band: ``sweep`` of ``skiplobe wire --json``.

    Parameters
    ----------
    station : Station
        From `advisor.make_station`.
    band : str
        The band.
    setup : str, optional
        Which of several set-ups; the first if left out.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``frequency_mhz`` from edge to edge: ``wire_resistance_ohm`` and
        ``wire_reactance_ohm`` at the feedpoint, ``radio_swr`` before any tuner.

    Raises
    ------
    InputError
        If the set-up is not used on the band, cannot be hung on it, or is the
        ground-mounted vertical, whose closed form has no reactance.

    Examples
    --------
    >>> from advisor import make_station, make_wire
    >>> station = make_station("KF07jo", setups=make_wire("dipole", height_m=10))
    >>> frame = feed_by_frequency(station, "20 m")
    >>> len(frame), list(frame.columns)
    (21, ['radio_swr', 'wire_resistance_ohm', 'wire_reactance_ohm'])
    """
    import pandas as pd

    from advisor.answers.rows.wire import wire_details
    from advisor.answers.wire import wire_work

    wire, one = _set_up(station, setup), _band(station, band)
    work = wire_work(
        station, wire, [one.name], quick=True, cache_dir=directory(cache_dir)
    )
    sweep = wire_details([work]).wires[0].bands[0].sweep
    if sweep is None:
        raise InputError(f"a {wire.shape} has no sweep: its closed form is resonant")
    return pd.DataFrame(as_mapping(sweep)).set_index("frequency_mhz")


def wire_pattern(
    station: Station,
    band: str,
    *,
    setup: str | None = None,
    wire_deg: Any = None,
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Gain of a wire over the whole sky, for power at its feedpoint.

    Parameters
    ----------
    station : Station
        From `advisor.make_station`.
    band : str
        The band.
    setup : str, optional
        Which of several set-ups; the first if left out.
    wire_deg : float or astropy quantity, optional
        The way the wire runs, from true north; as it hangs if left out. [deg]
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        One row a direction, every degree of elevation and two of azimuth:
        ``elevation_deg``, ``azimuth_deg`` from the wire's own way, ``bearing_deg``
        from true north (NaN for a wire that is free to turn), ``gain_dbi``, and its
        parts ``vertical`` and ``horizontal`` as ratios. ``attrs`` holds
        ``frequency_mhz``, ``efficiency`` and ``feed_loss_db``, which the gain is
        before.

    Raises
    ------
    InputError
        If the set-up is not used on the band, or cannot be hung on it.

    Examples
    --------
    >>> from advisor import make_station, make_wire
    >>> station = make_station("KF07jo", setups=make_wire("ground-mounted vertical"))
    >>> frame = wire_pattern(station, "20 m")
    >>> len(frame), float(frame.loc[frame.gain_dbi.idxmax(), "elevation_deg"])
    (16380, 27.0)
    """
    import pandas as pd

    wire, found = _solved(station, band, setup, wire_deg, cache_dir)
    pattern = found.wire
    elevation, azimuth = np.meshgrid(
        pattern.elevation_deg, pattern.azimuth_deg, indexing="ij"
    )
    frame = pd.DataFrame(
        {
            "elevation_deg": elevation.ravel(),
            "azimuth_deg": azimuth.ravel(),
            "bearing_deg": _true_deg(wire, azimuth.ravel()),
            "gain_dbi": pattern.gain_dbi(elevation, azimuth).ravel(),
            "vertical": pattern.vertical.ravel(),
            "horizontal": pattern.horizontal.ravel(),
        }
    )
    frame.attrs = {
        "frequency_mhz": pattern.frequency_mhz,
        "efficiency": pattern.efficiency,
        "feed_loss_db": float(found.chain.loss_db[0]),
    }
    return frame


def gain_by_bearing(
    station: Station,
    band: str,
    takeoff_deg: Any,
    *,
    setup: str | None = None,
    wire_deg: Any = None,
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Gain of a wire at one take-off angle round the compass, for power at its feedpoint.

    Parameters
    ----------
    station : Station
        From `advisor.make_station`.
    band : str
        The band.
    takeoff_deg : float or astropy quantity
        The angle, 0 to 90. [deg]
    setup : str, optional
        Which of several set-ups; the first if left out.
    wire_deg : float or astropy quantity, optional
        The way the wire runs, from true north; as it hangs if left out. [deg]
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``bearing_deg`` from true north, rising; for a wire that is free to turn
        ``azimuth_deg`` from its own way. Column ``gain_dbi``.

    Raises
    ------
    InputError
        If the angle is not 0 to 90, or the set-up is not used on the band or cannot be
        hung on it.

    Examples
    --------
    >>> import astropy.units as u
    >>> from advisor import make_station, make_wire
    >>> wire = make_wire("dipole", height_m=10, bearing_deg=90)
    >>> frame = gain_by_bearing(make_station("KF07jo", setups=wire), "20 m", 15 * u.deg)
    >>> frame.loc[[0.0, 90.0], "gain_dbi"].round(0).to_list()
    [4.0, -11.0]
    """
    import pandas as pd

    takeoff = plain_number(takeoff_deg, "takeoff_deg")
    if takeoff is None or not 0.0 <= takeoff <= 90.0:
        raise InputError(f"take-off angle {takeoff_deg} is not 0 to 90 deg")
    wire, found = _solved(station, band, setup, wire_deg, cache_dir)
    azimuth = found.wire.azimuth_deg
    is_free = wire.bearing_deg is None
    name = "azimuth_deg" if is_free else "bearing_deg"
    index = azimuth if is_free else _true_deg(wire, azimuth)
    frame = pd.DataFrame(
        {"gain_dbi": found.wire.gain_dbi(takeoff, azimuth)},
        index=pd.Index(index, name=name),
    ).sort_index()
    frame.attrs["takeoff_deg"] = takeoff
    return frame


def _set_up(station: Station, name: str | None) -> SetUp:
    """Find a set-up by name; the first if none is named."""
    names = [setup.name for setup in station.setups]
    return station.setups[0 if name is None else place_of(name, names, "set-up")]


def _band(station: Station, name: str) -> Band:
    """Find a band as it is in the station's radio region."""
    return band_by_name(name, station.iaru_region)


def _solved(
    station: Station,
    band: str,
    setup: str | None,
    wire_deg: Any,
    cache_dir: Directory,
) -> tuple[SetUp, BandSolution]:
    """Solve one set-up on one band as `advisor.answers.wire.wire_work` does."""
    from advisor.engine.wires import solve_setup

    wire, one = _set_up(station, setup), _band(station, band)
    if wire_deg is not None:
        wire = wire.changed(bearing_deg=plain_number(wire_deg, "wire_deg"))
    found = solve_setup(wire, [one], station.ground, directory(cache_dir))
    if one.name not in found:
        raise InputError(
            f"set-up '{wire.name}' is not used on {one.name}: it has "
            f"{', '.join(wire.bands)}"
        )
    return wire, found[one.name]


def _true_deg(wire: SetUp, azimuth_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn directions from the wire's way to true bearings; NaN for a free wire."""
    if wire.bearing_deg is None:
        return np.full(len(azimuth_deg), np.nan)
    return (azimuth_deg + wire.bearing_deg) % 360.0
