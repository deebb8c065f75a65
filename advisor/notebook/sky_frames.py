"""Hops, the sky over a place and over a path as pandas frames, for notebooks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from advisor.answers.ask import hours_from, solar_index
from advisor.engine.question import Question
from advisor.notebook.coerce import plain_number, utc_time
from advisor.notebook.framing import by_hour, frame_of, numbers
from advisor.notebook.inputs import make_conditions, make_station, whole_hours
from advisor.station.bands import bands_for_region
from advisor.station.station import Station
from geo.fields import as_mapping
from geo.places import parse_place

if TYPE_CHECKING:
    import pandas as pd


def hop_angles(
    heights_km: Sequence[float] = (), distances_km: Sequence[float] = ()
) -> pd.DataFrame:
    """
    Take-off angle of one hop by mirror height and distance: ``skiplobe hops --json``.

    Parameters
    ----------
    heights_km : sequence of float or astropy quantity, optional
        Mirror heights; the usual ones if none is given. [km]
    distances_km : sequence of float or astropy quantity, optional
        Lengths of the hop; the usual ones if none is given. [km]

    Returns
    -------
    frame : pandas.DataFrame
        One row a distance and height; NaN below the horizon.

    Raises
    ------
    InputError
        For a height or a distance out of range.

    Examples
    --------
    >>> hop_angles([300.0], [1000.0])["takeoff_deg"].to_list()
    [28.1]
    """
    from advisor.answers.sky import hop_rows

    return frame_of(
        hop_rows(numbers(heights_km, "height_km"), numbers(distances_km, "hop_km"))
    )


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
    soundings: Iterable[tuple[Any, Any, Any]] = (),
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
    ('2026-12-05T12:00:00+00:00', [8.7, 8.6])
    """
    from advisor.answers.sky import sky_table

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


def path_hours(question: Question) -> pd.DataFrame:
    """
    MUF, FOT, LUF and the sun over a path: what ``skiplobe sky --to`` adds.

    Parameters
    ----------
    question : Question
        One target, from `advisor.make_question`; its bands are of no account.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``; NaN where there is no such frequency. ``attrs`` holds target,
        distance, bearing and the circuit that the LUF is for.

    Raises
    ------
    InputError
        If there is more than one target.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, r12=58
    ... )
    >>> path_hours(question)["path_muf_mhz"].to_list()
    [19.9]
    """
    from advisor.answers.path_sky import sky_path

    found = sky_path(question)
    rows = [
        {"utc": f"{time}Z", **vars(row)}
        for time, row in zip(question.times, found.rows, strict=True)
    ]
    frame = by_hour(rows)
    facts = as_mapping(found.facts)
    for name in ("target", "distance_km", "bearing_deg", "circuit", "sun"):
        frame.attrs[name] = facts[name]
    return frame
