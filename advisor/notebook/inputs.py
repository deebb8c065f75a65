"""
Stations and questions for notebooks, from plain numbers or with units and zones.

What is made here are the records that the commands use, by the same checks. They are to
be imported from the package: ``from advisor import make_station, make_question``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from advisor.answers.ask import question_for
from advisor.engine.question import Question
from advisor.notebook.coerce import place_text, plain, plain_number, utc_time
from advisor.notebook.framing import listed
from advisor.station.bands import band_by_name
from advisor.station.checks import shown
from advisor.station.file import demo_station, resolve_station
from advisor.station.setup import SetUp, build_set_up
from advisor.station.station import Station
from geo.errors import InputError
from geo.ionosphere.conditions import QUIET, Conditions, Sounding
from geo.ionosphere.readings import hourly_soundings
from geo.places import parse_place


def make_setup(shape: str, name: str | None = None, **values: Any) -> SetUp:
    """
    Make one set-up, to be given to `make_station`.

    Parameters
    ----------
    shape : str
        One of the shapes, such as ``"dipole"``; a wrong one is told the list.
    name : str, optional
        What you call it; the shape if left out.
    **values : object
        Any other key a set-up may have in a station file, such as ``height_m``,
        ``bearing_deg``, ``bands``, ``line_m``. Numbers are in the unit the name ends
        in; astropy quantities are turned into it.

    Returns
    -------
    setup : SetUp
        What was given, checked. Without ``bands`` it takes those of its station.

    Raises
    ------
    InputError
        If a key is unknown, a value is not allowed, or a quantity is of another kind.

    Examples
    --------
    >>> import astropy.units as u
    >>> make_setup("dipole", height_m=750 * u.cm, bands="20m")
    SetUp(dipole on 20 m, height_m 7.5, free to turn)
    """
    named = {} if name is None else {"name": name}
    plain_values = {key: plain(value, key) for key, value in values.items()}
    return build_set_up({"shape": shape, **named, **plain_values}, ())


def make_station(
    place: Any = None,
    *,
    file: str | Path | None = None,
    setups: Mapping[str, Any] | SetUp | Iterable[Mapping[str, Any] | SetUp] = (),
    **values: Any,
) -> Station:
    """
    Make a station from values, a station file, or a file with some values changed.

    Parameters
    ----------
    place : object, optional
        Where: a locator or ``"lat,lon"``, a pair of numbers or astropy angles, or an
        astropy ``EarthLocation``. Must be given here or in the file.
    file : str or pathlib.Path, optional
        A station file; what is given here wins over it.
    setups : one or several of SetUp or mapping, optional
        Wires, from `make_setup`, instead of the file's. Without any at all one dipole
        8 m up is taken.
    **values : object
        Any other key of a station file, such as ``power_w``, ``emission``, ``noise``,
        ``ground``, ``horizon_deg``, ``bands``, ``far_end``, ``to``.

    Returns
    -------
    station : Station
        Complete: what was left out has its default.

    Raises
    ------
    InputError
        If there is no place, a key is unknown, a value is not allowed, or a quantity is
        of another kind.

    Examples
    --------
    >>> import astropy.units as u
    >>> station = make_station(
    ...     (-21.5, 165.25),
    ...     power_w=0.02 * u.kW,
    ...     setups=make_setup("ground-mounted vertical", bands="20 m"),
    ... )
    >>> station.place, station.power_w, station.iaru_region, station.setups[0].shape
    ('-21.5,165.25', 20.0, 3, 'ground-mounted vertical')
    """
    if place is None and file is None:
        raise InputError(
            "no place is given: name it first, as a grid locator such as 'KF07jo' or "
            "as (latitude, longitude), or give a station file with one"
        )
    to = values.pop("to", None)
    given = {key: plain(value, key) for key, value in values.items()}
    if place is not None:
        given["place"] = place_text(place)
    if to is not None:
        given["to"] = place_texts(to, "to")
    wires = [setups] if isinstance(setups, Mapping | SetUp) else list(setups)
    if wires:
        given["setups"] = [
            wire.as_mapping() if isinstance(wire, SetUp) else plain(wire, "setups")
            for wire in wires
        ]
    station, _ = resolve_station(None if file is None else Path(file), given)
    return station


def example_station() -> Station:
    """
    Make the station of the shipped demonstration, an invented operator.

    Returns
    -------
    station : Station
        With a linked dipole and a vertical.

    Examples
    --------
    >>> example_station().place
    'KF07jo'
    """
    station, _ = resolve_station(demo_station(), {})
    return station


def make_question(
    station: Station,
    to: Any = None,
    start: Any = None,
    hours: Any = 24,
    *,
    bands: str | Iterable[str] = (),
    r12: float | None = None,
    flux: Any = None,
    kp: float | None = None,
    flare: str | None = None,
    proton_flux: float | None = None,
    soundings: Iterable[tuple[Any, Any, Any] | Sounding] = (),
    long_path: bool = False,
    weights: str = "usual",
) -> Question:
    """
    Put a question: which band, bearing, hour and set-up, for these targets.

    Parameters
    ----------
    station : Station
        Who asks, from `make_station`.
    to : object, optional
        Target or a list of targets: a region, a country, a ring such as ``"within 800
        km"``, or a place as in `make_station`; that of the station if left out. Two
        numbers are one place.
    start : object
        First hour: text, datetime with its zone, pandas or astropy time, see
        `advisor.notebook.coerce.utc_time`. The clock is never read.
    hours : int or astropy quantity, optional
        How many hours, 1 to 72.
    bands : str or iterable of str, optional
        Bands to look at; all that the station may use and a set-up is cut for if left
        out.
    r12 : float, optional
        Twelve-month smoothed sunspot number, old scale, instead of the table's.
    flux : float or astropy quantity, optional
        10.7 cm flux instead. [sfu]
    kp : float, optional
        Planetary index of the past day and a half, 0 to 9.
    flare : str, optional
        Class of a flare taken to be at its peak, such as ``"M5"``.
    proton_flux : float, optional
        Protons above 10 MeV. [1/(cm2 s sr)]
    soundings : iterable of (fof2_mhz, place, time), optional
        Measured foF2, where and when; or those of `ionosonde_soundings`. [MHz]
    long_path : bool, optional
        Ask about the long way round.
    weights : str, optional
        What the points of a target weigh: ``"usual"``, ``"area"`` or ``"operators"``,
        see `geo.places.resolve_target`.

    Returns
    -------
    question : Question
        For `advisor.ask`.

    Raises
    ------
    InputError
        If there is no target or no start, or anything given is not possible.

    Examples
    --------
    >>> from astropy.time import Time
    >>> question = make_question(
    ...     example_station(), "KE", Time("2026-12-05T18:00"), hours=2, bands="20m"
    ... )
    >>> question.times
    array(['2026-12-05T18:00:00', '2026-12-05T19:00:00'],
          dtype='datetime64[s]')
    >>> question.targets[0].name, question.bands[0].name
    ('Kenya (ISO KE)', '20 m')
    """
    if not isinstance(station, Station):
        raise InputError(f"{shown(station)} is no station: make one with make_station")
    if start is None:
        raise InputError(
            "no start is given: name the first hour, such as '2026-12-05T18:00Z'"
        )
    wanted = station.to if to is None else tuple(place_texts(to, "to"))
    if not wanted:
        raise InputError("no target: name one with to, or give the station one")
    return question_for(
        station,
        wanted,
        utc_time(start),
        whole_hours(hours),
        band_names=[
            band_by_name(name, station.iaru_region).name
            for name in listed(bands, "bands")
        ],
        r12=plain_number(r12, "r12"),
        flux=plain_number(flux, "flux"),
        long_path=long_path,
        conditions=make_conditions(kp, flare, proton_flux, soundings),
        weights=weights,
    )


def ionosonde_soundings(text: str, start: Any, hours: int = 24) -> tuple[Sounding, ...]:
    r"""
    Read the table of an ionosonde that you downloaded, one sounding an hour.

    Parameters
    ----------
    text : str
        What the file holds, as of ``--ionosonde``.
    start : object
        First hour of the question, as `make_question` takes it.
    hours : int, optional
        How many.

    Returns
    -------
    soundings : tuple of Sounding
        For ``soundings`` of `make_question`, `ask`, `links` and `sky_hours`.

    Raises
    ------
    InputError
        If it is another file, or has no reading of these hours.

    Examples
    --------
    >>> table = "# Location: GEO ( 32.4 S 20.8 E ), URSI-Code XX033\n# Time CS foF2 QD"
    >>> table += "\n2026-12-05T12:00:00.000Z 80 7.0 //"
    >>> ionosonde_soundings(table, "2026-12-05T12:00Z", 1)[0].fof2_mhz
    7.0
    """
    return hourly_soundings(text, utc_time(start, "start"), hours)


def make_conditions(
    kp: float | None = None,
    flare: str | None = None,
    proton_flux: float | None = None,
    soundings: Iterable[tuple[Any, Any, Any] | Sounding] = (),
) -> Conditions:
    """
    Put together what is assumed of the sky besides the medians of the month.

    Parameters
    ----------
    kp, flare, proton_flux, soundings : object, optional
        As in `make_question`.

    Returns
    -------
    conditions : Conditions
        For a question or a table of the sky.

    Raises
    ------
    InputError
        If a value is out of range or of another kind.

    Examples
    --------
    >>> make_conditions(kp=5).kp
    5.0
    """
    if flare is not None and not isinstance(flare, str):
        raise InputError(f"flare: {shown(flare)} is not allowed: give text like 'M5'")
    found = []
    for each in soundings:
        if isinstance(each, Sounding):
            found.append(each)
            continue
        if not isinstance(each, tuple | list) or len(each) != 3:
            raise InputError(
                f"soundings: {shown(each)} is not allowed: give a list of foF2 in MHz, "
                "the place and the time, such as [(6.8, 'KF07jo', '2026-12-05T12:00Z')]"
            )
        fof2_mhz = plain_number(each[0], "fof2_mhz")
        found.append(
            Sounding(
                float("nan") if fof2_mhz is None else fof2_mhz,
                parse_place(place_text(each[1], "place of a sounding")),
                utc_time(each[2], "time of a sounding"),
            )
        )
    if (kp, flare, proton_flux) == (None, None, None) and not found:
        return QUIET
    return Conditions(
        tuple(found),
        plain_number(kp, "kp"),
        flare,
        plain_number(proton_flux, "proton_flux"),
    )


def whole_hours(hours: Any) -> int:
    """
    Turn a length of time into a number of hours.

    Parameters
    ----------
    hours : int or astropy quantity
        What came.

    Returns
    -------
    hours : int
        Whole hours.

    Raises
    ------
    InputError
        If it is no whole number of hours.

    Examples
    --------
    >>> import astropy.units as u
    >>> whole_hours(1 * u.day)
    24
    """
    found = plain_number(hours, "hours")
    if found is None or not found.is_integer():
        raise InputError(f"{hours} hours asked for: give a whole number, 1 to 72")
    return int(found)


def place_texts(targets: Any, name: str) -> list[str]:
    """
    Write one place or target, or several, as a question reads them.

    Parameters
    ----------
    targets : object or sequence of object
        What came; a list or tuple of anything but two numbers or angles holds several,
        as do the rows of an array of two columns.
    name : str
        What they are, for the error text.

    Returns
    -------
    texts : list of str
        One a place.
    """
    is_table = getattr(targets, "ndim", 0) == 2
    if is_table and hasattr(targets, "to_numpy"):
        targets = targets.to_numpy()
    many = is_table or (
        isinstance(targets, list | tuple)
        and not (len(targets) == 2 and all(map(_is_number, targets)))
    )
    return [place_text(each, name) for each in (targets if many else [targets])]


def _is_number(value: Any) -> bool:
    """Whether a value is a number or an angle rather than a name or a place."""
    return isinstance(value, int | float) or (
        hasattr(value, "__float__") and not hasattr(value, "geodetic")
    )
