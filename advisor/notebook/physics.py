"""
Links, the sky over a place and what a wire does, for notebooks: no question needed.

`links` is for a table over any places, times and frequencies; the rest are the rows of
``skiplobe sky`` and ``skiplobe wire``, and the pattern of a wire by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.answers.ask import hours_from, solar_index
from advisor.notebook.coerce import plain_number, utc_time, utc_times
from advisor.notebook.framing import (
    Directory,
    by_hour,
    directory,
    frame_of,
    listed,
    numbers,
    place_of,
)
from advisor.notebook.inputs import (
    make_conditions,
    make_station,
    place_texts,
    whole_hours,
)
from advisor.station.bands import band_by_name, bands_for_region
from advisor.station.checks import shown
from advisor.station.setup import SetUp
from advisor.station.station import Station
from geo.errors import InputError
from geo.fields import as_mapping
from geo.ionosphere.conditions import Sounding
from geo.places import parse_place

if TYPE_CHECKING:
    import pandas as pd

    from advisor.antenna.pattern import Pattern


def links(
    station: Station,
    places: Any,
    times: Any,
    frequencies_mhz: Any,
    *,
    setup: str | SetUp | None = None,
    wire_deg: Any = None,
    r12: float | None = None,
    flux: Any = None,
    kp: float | None = None,
    flare: str | None = None,
    proton_flux: float | None = None,
    soundings: Iterable[tuple[Any, Any, Any] | Sounding] = (),
    long_path: bool = False,
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Links to any list of far places, at any times, on any frequencies, in one call.

    Parameters
    ----------
    station : Station
        From `advisor.make_station`: place, power, emission, noise, horizon, far end.
    places : object or list of object
        Far ends, each as `advisor.make_station` takes its place.
    times : object or sequence of object
        Moments, each as `advisor.notebook.coerce.utc_time` takes it: a list, a numpy or
        astropy array, a pandas index. In any order, months or years apart.
    frequencies_mhz : float, sequence of float or astropy quantity
        1.5 to 54, in a band or not. [MHz]
    setup : str or SetUp, optional
        What hangs here: one of the station's set-ups by name, any other, or
        ``"isotropic"``; the station's first if left out. On every frequency it is
        solved as it hangs there: one cut for each band is taken to be cut for that
        frequency, one of one length stays as it is.
    wire_deg : float or astropy quantity, optional
        The way the wire runs, instead of its own. A wire that is free to turn counts as
        the mean over all its bearings. [deg]
    r12, flux, kp, flare, proton_flux, soundings : object, optional
        As in `advisor.make_question`.
    long_path : bool, optional
        Go the long way round.
    cache_dir : str or pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``, one row a place, moment and frequency, in the order given:
        ``place``, ``distance_km``, ``bearing_deg``, ``frequency_mhz``, ``chance`` of a
        contact, chance to be ``heard`` there and of their being ``heard_here``,
        ``snr_db`` and ``snr_here_db``, the median signal over noise in 2.5 kHz there
        and here (NaN where there is no way, and below -60), ``mode`` and
        ``takeoff_deg``.
        ``attrs["antenna"]`` says what hangs here, ``attrs["solar"]`` what the sun does.

    Raises
    ------
    InputError
        If anything given is not possible.

    Examples
    --------
    >>> import numpy as np
    >>> from advisor import make_setup, make_station
    >>> station = make_station("KF07jo", setups=make_setup("dipole", height_m=8))
    >>> months = np.array(["2026-01", "2026-09"], dtype="datetime64[M]")
    >>> noon = months.astype("datetime64[h]") + np.timedelta64(12, "h")
    >>> frame = links(station, ["KI88", (52.0, 13.0)], noon, [7.1, 17.0])
    >>> len(frame), frame.attrs["antenna"], frame["mode"].iloc[1]
    (8, 'dipole, mean over its bearings', '2F2')
    """
    import pandas as pd

    from advisor.answers.far_places.links import ISOTROPIC, links_to

    known = {each.name: each for each in _of_station(station).setups}
    if not isinstance(setup, SetUp):
        names = [*known, ISOTROPIC]
        name = names[0 if setup is None else place_of(setup, names, "set-up")]
        setup = known.get(name)
    found = links_to(
        station,
        [parse_place(text) for text in place_texts(places, "places")],
        utc_times(times),
        numbers(frequencies_mhz, "frequency_mhz"),
        setup=setup,
        wire_deg=plain_number(wire_deg, "wire_deg"),
        r12=plain_number(r12, "r12"),
        flux=plain_number(flux, "flux"),
        long_path=long_path,
        conditions=make_conditions(kp, flare, proton_flux, soundings),
        cache_dir=directory(cache_dir),
    )
    shape = found.chance.shape

    def filled(values: Any, axis: int) -> Any:
        """Repeat what holds for one axis alone over the whole table."""
        along = np.expand_dims(values, [i for i in range(3) if i != axis])
        return np.broadcast_to(along, shape).ravel()

    frame = pd.DataFrame(
        {
            "utc": filled(found.times, 1),
            "place": filled([each.label for each in found.places], 0),
            "distance_km": filled(found.distance_km, 0),
            "bearing_deg": filled(found.bearing_deg, 0),
            "frequency_mhz": filled(found.frequency_mhz, 2),
        }
        | {
            name: getattr(found, name).ravel()
            for name in (
                "chance",
                "heard",
                "heard_here",
                "snr_db",
                "snr_here_db",
                "mode",
                "takeoff_deg",
            )
        }
    )
    frame = frame.set_index("utc").tz_localize("UTC")
    frame.attrs = {"antenna": found.antenna, "solar": found.solar}
    return frame


def sky_hours(
    where: Any,
    start: Any,
    hours: Any = 24,
    *,
    r12: float | None = None,
    flux: Any = None,
    kp: float | None = None,
    flare: str | None = None,
    proton_flux: float | None = None,
    soundings: Iterable[tuple[Any, Any, Any] | Sounding] = (),
) -> pd.DataFrame:
    """
    Layers over a place, hour by hour: the rows of ``skiplobe sky --json``.

    Parameters
    ----------
    where : Station or object
        A station, or a place as `advisor.make_station` takes it.
    start : object
        First hour, see `advisor.notebook.coerce.utc_time`.
    hours : int or astropy quantity, optional
        How many hours, 1 to 72.
    r12, flux, kp, flare, proton_flux, soundings : object, optional
        As in `advisor.make_question`.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``: critical frequencies, MUFs, skip distances, the sun.
        ``attrs["sun"]`` holds its rise and set.

    Raises
    ------
    InputError
        If anything given is not possible.

    Examples
    --------
    >>> import pandas as pd
    >>> start = pd.Timestamp("2026-12-05 14:00", tz="Africa/Johannesburg")
    >>> frame = sky_hours("KF07jo", start, 2, r12=58)
    >>> frame.index[0].isoformat(), frame["fof2_mhz"].round(1).to_list()
    ('2026-12-05T12:00:00+00:00', [9.0, 8.8])
    """
    from advisor.answers.skies.sky import sky_table

    station = where if isinstance(where, Station) else make_station(where)
    place = parse_place(station.place)
    times = hours_from(utc_time(start), whole_hours(hours))
    solar = solar_index(times, plain_number(r12, "r12"), plain_number(flux, "flux"))
    sky = make_conditions(kp, flare, proton_flux, soundings)
    sky.check_against_map(times, solar.r12)
    bands = [
        band
        for band in bands_for_region(station.iaru_region)
        if band.name in station.bands
    ]
    seen = sky_table(place, times, solar, bands, sky)
    frame = by_hour(seen.rows)
    frame.attrs |= {"sun": as_mapping(seen.sun), "solar": seen.solar_basis}
    frame.attrs["assumed"] = list(seen.assumed)
    return frame


def wire_figures(
    station: Station,
    bands: str | Iterable[str] = (),
    *,
    setup: str | SetUp | None = None,
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
    setup : str or SetUp, optional
        Which of several set-ups, or any other; the first if left out.
    takeoffs_deg : sequence of float or astropy quantity, optional
        Angles at which the gain is told; the usual ones if left out. [deg]
    quick : bool, optional
        Exposure by a far-field formula and no other kinds of ground.
    cache_dir : str or pathlib.Path, optional
        Where solved wires and rays are kept between runs.

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
    >>> from advisor import make_station, make_setup
    >>> station = make_station("KF07jo", setups=make_setup("ground-mounted vertical"))
    >>> wire_figures(station, "20 m", quick=True).loc["20 m", "verdict"]
    'DX'
    """
    from advisor.answers.one_wire.sky import TAKEOFFS_DEG
    from advisor.answers.one_wire.wire import wire_work
    from advisor.answers.rows.wire import wire_rows

    angles: Sequence[float] = TAKEOFFS_DEG
    if takeoffs_deg is not None:
        angles = tuple(sorted(set(numbers(takeoffs_deg, "takeoff_deg"))))
    wire = _set_up(station, setup)
    work = wire_work(
        station,
        wire,
        [
            band_by_name(name, station.iaru_region).name
            for name in listed(bands, "bands")
        ],
        takeoffs_deg=angles,
        quick=quick,
        cache_dir=directory(cache_dir),
    )
    frame = frame_of(wire_rows([work])).set_index("band")
    frame.attrs["refused"] = dict(work.refused)
    return frame


def wire_sweep(
    station: Station,
    band: str,
    *,
    setup: str | SetUp | None = None,
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
    setup : str or SetUp, optional
        Which of several set-ups, or any other; the first if left out.
    cache_dir : str or pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``frequency_mhz`` from edge to edge: ``wire_resistance_ohm`` and
        ``wire_reactance_ohm`` at the feedpoint, ``radio_swr`` before any tuner.

    Raises
    ------
    InputError
        If the set-up is not used on the band or cannot be hung on it.

    Examples
    --------
    >>> from advisor import make_station, make_setup
    >>> station = make_station("KF07jo", setups=make_setup("dipole", height_m=10))
    >>> frame = wire_sweep(station, "20 m")
    >>> len(frame), list(frame.columns)
    (21, ['radio_swr', 'wire_resistance_ohm', 'wire_reactance_ohm'])
    """
    import pandas as pd

    from advisor.answers.one_wire.wire import wire_work
    from advisor.answers.rows.wire import wire_details

    wire = _set_up(station, setup)
    one = band_by_name(band, station.iaru_region)
    work = wire_work(
        station, wire, [one.name], quick=True, cache_dir=directory(cache_dir)
    )
    sweep = wire_details([work]).wires[0].bands[0].sweep
    return pd.DataFrame(as_mapping(sweep)).set_index("frequency_mhz")


def wire_pattern(
    setup: SetUp,
    frequency_mhz: Any,
    *,
    ground: str = "average",
    cache_dir: Directory = None,
) -> Pattern:
    """
    Gain of a wire over the whole sky, for power at its feedpoint.

    Parameters
    ----------
    setup : SetUp
        From `advisor.make_setup`, or one of a station's.
    frequency_mhz : float or astropy quantity
        Any frequency. One cut for each band is cut for it, one of one length stays as
        it is: cut for its lowest band unless its length was given. [MHz]
    ground : str, optional
        Kind of ground under it.
    cache_dir : str or pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    pattern : Pattern
        The wire at bearing zero: azimuths count from the way it runs, clockwise.
        Losses in conductor and ground are in it; those of transformer and line not.

    Raises
    ------
    InputError
        If the wire cannot be hung, or the ground is unknown.

    Examples
    --------
    A dipole that runs east and west, towards north and east at 15 degrees:

    >>> from advisor import make_setup
    >>> pattern = wire_pattern(make_setup("dipole", height_m=10), 14.1)
    >>> pattern
    Pattern(14.1 MHz, 6.9 dBi at 30 deg, efficiency 0.74)
    >>> pattern.gain_dbi(15.0, np.array([0.0, 90.0]) - 90.0).round(0)
    array([  4., -11.])
    """
    from advisor.antenna.ground import ground_by_name
    from advisor.engine.wires import solve_at

    if not isinstance(setup, SetUp):
        raise InputError(f"{shown(setup)} is no set-up: make one with make_setup")
    (mhz,) = numbers(frequency_mhz, "frequency_mhz")
    return solve_at(setup, mhz, ground_by_name(ground), directory(cache_dir)).wire


def _of_station(station: Any) -> Station:
    """Refuse what is no station."""
    if isinstance(station, Station):
        return station
    raise InputError(f"{shown(station)} is no station: make one with make_station")


def _set_up(station: Any, setup: str | SetUp | None) -> SetUp:
    """Find a set-up by name, the first if none is named; any other is itself."""
    hung = _of_station(station).setups
    if isinstance(setup, SetUp):
        return setup if setup.bands else setup.changed(bands=station.bands)
    names = [each.name for each in hung]
    return hung[0 if setup is None else place_of(setup, names, "set-up")]
