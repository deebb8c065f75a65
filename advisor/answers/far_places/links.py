"""
Links to many places at many times on any frequencies, in one go.

The figures are those that `advisor.answers.advice` gives a target of one point, for one
antenna that hangs as it is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.answers.ask import solar_index
from advisor.answers.bearings import is_by_ground_wave
from advisor.answers.through import carried_by
from advisor.answers.why_facts import GROUND_WAVE_NAME
from advisor.antenna.closedform import isotropic_pattern
from advisor.antenna.ground import ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance, contact_margin_db
from advisor.engine.engine import gains_towards, link_at
from advisor.engine.question import Question
from advisor.engine.targets import describe_targets
from advisor.engine.wires import far_end_pattern, solve_at
from advisor.station.bands import bands_for_region
from advisor.station.setup import SetUp
from advisor.station.station import Station
from geo.arrays import Floats, Names, Times
from geo.errors import InputError
from geo.ionosphere.conditions import QUIET, Conditions
from geo.places import Place, Target, check_away, parse_place
from geo.records import ArrayRecord

LOWEST_MHZ, HIGHEST_MHZ = 1.5, 54.0
"""Frequencies that may be asked about. [MHz]"""

ISOTROPIC = "isotropic"
"""Stands for an antenna that radiates alike all round and loses nothing."""

FAINTEST_SNR_DB = -60.0
"""Below this no ratio is told: routes this faint are not all followed. [dB]"""

_CELLS_AT_A_TIME = 20_000
"""So many hours and frequencies are worked on at a time, over as many places as that
takes; it bounds the memory."""


class Links(ArrayRecord):
    """
    Links over P places, T hours and F frequencies, (P, T, F) unless said otherwise.

    Attributes
    ----------
    places : tuple of Place
        Far ends.
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC.
    frequency_mhz : numpy.ndarray
        Shape (F,). [MHz]
    antenna : str
        What hangs here, and how, in words.
    solar : str
        Where the solar activity is from, in words.
    distance_km, bearing_deg : numpy.ndarray
        Shape (P,): length of the path and its bearing at my end. [km], [deg]
    chance : numpy.ndarray
        Share of days on which both copy each other.
    heard, heard_here : numpy.ndarray
        Share of days on which they copy me, and on which I copy them.
    snr_db, snr_here_db : numpy.ndarray
        Median signal over noise in 2.5 kHz there and here, on the middle one of the
        days with any way at all; NaN where there is none, and below -60: a median over
        days is not worked out for what nothing hears. [dB]
    mode : numpy.ndarray of str
        Mode that carries the contact, such as 2F2; empty where there is none.
    takeoff_deg : numpy.ndarray
        Take-off angle that halves the signal power; NaN where no mode exists and for
        the ground wave. [deg]
    """

    places: tuple[Place, ...]
    times: Times
    frequency_mhz: Floats
    antenna: str
    solar: str
    distance_km: Floats
    bearing_deg: Floats
    chance: Floats = field(repr=False)
    heard: Floats = field(repr=False)
    heard_here: Floats = field(repr=False)
    snr_db: Floats = field(repr=False)
    snr_here_db: Floats = field(repr=False)
    mode: Names = field(repr=False)
    takeoff_deg: Floats = field(repr=False)


def links_to(
    station: Station,
    places: Sequence[Place],
    times: Times,
    frequency_mhz: Sequence[float],
    *,
    setup: SetUp | None = None,
    wire_deg: float | None = None,
    r12: float | None = None,
    flux: float | None = None,
    long_path: bool = False,
    conditions: Conditions = QUIET,
    cache_dir: Path | None = None,
) -> Links:
    """
    Work out the links from a station to many places.

    Parameters
    ----------
    station : Station
        Where from, power, emission, noise, horizon, far end.
    places : sequence of Place
        Where to.
    times : numpy.ndarray of datetime64[s]
        Shape (T,), UTC, in any order.
    frequency_mhz : sequence of float
        Frequencies, 1.5 to 54, whether in a band or not. [MHz]
    setup : SetUp, optional
        What hangs here; an isotropic antenna without loss if left out. On any frequency
        it is solved as it hangs there: one cut for each band is taken to be cut for
        that frequency, one of one length stays as it is.
    wire_deg : float, optional
        The way the wire runs, instead of its own. A wire that is free to turn is taken
        at its mean over all bearings, as the far end's is. [deg]
    r12, flux : float, optional
        Solar activity instead of the table's, see `advisor.answers.ask.solar_index`.
    long_path : bool, optional
        Go the long way round.
    conditions : Conditions, optional
        What is assumed of the sky besides the medians of the month.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps what it found between runs.

    Returns
    -------
    links : Links
        One cell a place, hour and frequency.

    Raises
    ------
    InputError
        If a frequency is out of range, there is no place, time or frequency, a place
        is the station's own, or the wire cannot be hung.
    """
    if wire_deg is not None and not 0.0 <= wire_deg <= 360.0:
        raise InputError(
            f"wire_deg: {wire_deg:g} is not allowed: give the way the wire runs, 0 to "
            "360 degrees clockwise from true north"
        )
    frequency = np.array(frequency_mhz, dtype=float)
    for what, count in (
        ("place", len(places)),
        ("time", times.size),
        ("frequency", frequency.size),
    ):
        if not count:
            raise InputError(f"no {what} to work on: name at least one")
    outside = frequency[~((frequency >= LOWEST_MHZ) & (frequency <= HIGHEST_MHZ))]
    if outside.size:
        raise InputError(
            f"frequency {outside[0]:g} MHz is outside {LOWEST_MHZ:g} to "
            f"{HIGHEST_MHZ:g}: give frequencies in MHz"
        )
    bearing = setup.bearing_deg if setup and wire_deg is None else wire_deg
    patterns = _patterns(setup, bearing, frequency.tolist(), station.ground, cache_dir)
    far = [
        far_end_pattern(station.far_end, mhz, cache_dir) for mhz in frequency.tolist()
    ]
    here, asked_solar = parse_place(station.place), solar_index(times, r12, flux)
    for place in places:
        check_away(place, here)
    conditions.check_against_map(times, asked_solar.r12)
    body = len(places), times.size, frequency.size
    found: dict[str, NDArray[Any]] = {}
    # The magnetic field is that of the middle of the times: one day at a time.
    days = times.astype("datetime64[D]")
    for day in np.unique(days):
        hours = np.flatnonzero(days == day)
        step = max(1, _CELLS_AT_A_TIME // (hours.size * frequency.size))
        for first in range(0, len(places), step):
            some = slice(first, first + step)
            question = Question(
                station=station,
                place=here,
                targets=tuple(map(_target, places[some])),
                times=times[hours],
                bands=bands_for_region(station.iaru_region),
                emission=station.emission,
                solar=asked_solar.at(hours),
                long_path=long_path,
                conditions=conditions,
            )
            found_here = _cells(
                question, frequency, patterns, far, bearing or 0.0, cache_dir
            )
            for name, cells in found_here.items():
                shape, where = (
                    (body, (some, hours)) if cells.ndim == 3 else (body[:1], some)
                )
                kind = "U16" if cells.dtype.kind == "U" else float
                found.setdefault(name, np.empty(shape, kind))[where] = cells
    return Links(
        places=tuple(places),
        times=times,
        frequency_mhz=frequency,
        antenna=_antenna_words(setup, bearing),
        solar=asked_solar.basis,
        **found,
    )


def _target(place: Place) -> Target:
    """Make a target of one place."""
    lat, lon = np.array([place.lat_deg]), np.array([place.lon_deg])
    return Target(place.label, "point", lat, lon, np.ones(1), "one point")


def _patterns(
    setup: SetUp | None,
    bearing_deg: float | None,
    frequency_mhz: Sequence[float],
    ground: str,
    cache_dir: Path | None,
) -> list[Pattern]:
    """Pattern on each frequency, feed loss included."""
    if setup is None:
        return [isotropic_pattern(mhz) for mhz in frequency_mhz]
    soil = ground_by_name(ground)
    found = [solve_at(setup, mhz, soil, cache_dir).pattern for mhz in frequency_mhz]
    return [one.mean_over_azimuth() for one in found] if bearing_deg is None else found


def _antenna_words(setup: SetUp | None, bearing_deg: float | None) -> str:
    """Say what hangs here."""
    if setup is None:
        return "isotropic without loss"
    if bearing_deg is not None:
        return f"{setup.name}, wire runs {bearing_deg:03.0f} true"
    mean = ", mean over its bearings" if setup.is_free_to_turn else ""
    return f"{setup.name}{mean}"


def _cells(
    question: Question,
    frequency_mhz: Floats,
    patterns: Sequence[Pattern],
    far: Sequence[Pattern],
    wire_deg: float,
    cache_dir: Path | None,
) -> dict[str, NDArray[Any]]:
    """Figures of some places, by name."""
    link = link_at(
        question, question.solar.r12, frequency_mhz, far, cache_dir=cache_dir
    )
    soil = ground_by_name(question.station.ground)
    gains = gains_towards(link, patterns, soil, wire_deg)
    contact = contact_chance(link, gains)
    seen = describe_targets(question, link)
    # The margin is that of the worse direction.
    ahead = (link.hear_db - gains.efficiency_db) - (
        link.heard_db - link.far.efficiency_db
    )
    snr = contact_margin_db(link, gains) - np.minimum(ahead, 0.0)
    snr += question.emission.snr_in_db()
    along = is_by_ground_wave(question, link, gains)
    snr_here = snr + ahead
    mode = np.where(along, GROUND_WAVE_NAME, carried_by(question, link, gains))
    takeoff = np.stack([each.takeoff_deg for each in seen])
    return {
        "distance_km": link.paths.distance_km,
        "bearing_deg": link.paths.bearing_deg,
        "chance": contact.both[0],
        "heard": contact.heard[0],
        "heard_here": contact.hear[0],
        "snr_db": np.where(snr < FAINTEST_SNR_DB, np.nan, snr),
        "snr_here_db": np.where(snr_here < FAINTEST_SNR_DB, np.nan, snr_here),
        "mode": mode,
        "takeoff_deg": np.where(along, np.nan, takeoff),
    }
