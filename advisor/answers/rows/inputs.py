"""What was understood of a question and what the answer was made from, as written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

import numpy as np

from advisor.answers.perturb import Change
from advisor.engine.question import LeftOut, Question
from advisor.station.emissions import Emission
from advisor.station.setup import SetUp
from advisor.station.station import FarEnd, Station
from geo.fields import KEYS, LEFT_OUT, Count, Utc, filled, record
from geo.ionosphere.conditions import Conditions
from geo.places import Place

Sha256 = Annotated[str, ("pattern", "^[0-9a-f]{64}$")]


@dataclass(frozen=True)
class Form:
    """
    What the JSON of one command is made of.

    Attributes
    ----------
    name : str
        Words of the command.
    inputs : type
        Record of what was understood.
    row : type or None
        Record of one row of the results; None for what is put on a map.
    details : type or None
        Record of what stands beside the rows.
    """

    name: str
    inputs: type
    row: type | None = None
    details: type | None = None

    @property
    def title(self) -> str:
        """Name of the answer, for its schema and the header of its table."""
        if self.row is None:
            return "GeoJSON of skiplobe tonight, reach and chart map"
        return f"Answer of skiplobe {self.name}"


def utc_text(time: np.datetime64) -> str:
    """
    Write a moment to the minute.

    Parameters
    ----------
    time : numpy.datetime64
        UTC.

    Returns
    -------
    text : str
        Ends in Z.
    """
    return f"{time.astype('datetime64[m]')}Z"


@record
class ValueRow:
    """
    One value.

    Attributes
    ----------
    key : str
        Name of the value, as in the station file; those of set-ups by number.
    value : str
        Its value, in words.
    origin : str
        Where it comes from: option, environment, line of the station file, table or
        default.
    """

    key: str
    value: str
    origin: str


@record
class Remedy:
    """
    One remedy.

    Attributes
    ----------
    what : str
        The change, in words.
    gain : float
        What it adds to the mean chance.
    """

    what: str
    gain: float


def remedies(changes: Iterable[Change]) -> tuple[Remedy, ...]:
    """
    Write what would help.

    Parameters
    ----------
    changes : iterable of Change
        Each tried, best first.

    Returns
    -------
    remedies : tuple of Remedy
        In the same order.
    """
    return tuple(Remedy(each.what, each.gain) for each in changes)


@record
class NoInputs:
    """Nothing: every value is in results."""


STATION_FORM = Form("station show", NoInputs, ValueRow)


@record
class Provenance:
    """
    What the answer was made from.

    Attributes
    ----------
    program : str
        Name of the program.
    version : str
        Its version.
    tables_sha256 : dict of str to str
        Checksum of every table by file name, SHA-256 in hexadecimal.
    packages : dict of str to str
        Version of each package that can change a figure; only with --provenance.
    data_sha256 : dict of str to str
        Checksum of the ephemeris of the sun, SHA-256 in hexadecimal; only with
        --provenance.
    fetched : str or None
        What was fetched, from where, in words; only with --provenance; None if nothing
        was.
    inputs : tuple of ValueRow
        Every input; only with --provenance.
    """

    program: str
    version: str
    tables_sha256: Mapping[str, Sha256]
    packages: Mapping[str, str] = LEFT_OUT
    data_sha256: Mapping[str, Sha256] = LEFT_OUT
    fetched: str | None = LEFT_OUT
    inputs: tuple[ValueRow, ...] = LEFT_OUT


@record
class SoundingInputs:
    """
    One sounding.

    Attributes
    ----------
    fof2_mhz : float
        Critical frequency foF2 as sounded. [MHz]
    lat_deg : float
        Latitude of the sounding. [deg]
    lon_deg : float
        Longitude of the sounding. [deg]
    utc : str
        When it was made, UTC to the minute, such as 2026-12-05T14:00Z.
    """

    fof2_mhz: float
    lat_deg: float
    lon_deg: float
    utc: Utc


@record
class ConditionsInputs:
    """
    What is known of the sky besides the month.

    Attributes
    ----------
    soundings : tuple of SoundingInputs
        Soundings of --fof2-now.
    kp : float or None
        Index Kp of the past day and a half; None if none is given.
    flare : str or None
        Class of the flare assumed, such as M5; None if none is.
    proton_flux_cm2_s_sr : float or None
        Protons above 10 MeV assumed, per square centimetre, second and steradian; None
        if none are. [1 / (cm2 s sr)]
    """

    soundings: tuple[SoundingInputs, ...]
    kp: float | None
    flare: str | None
    proton_flux_cm2_s_sr: float | None


@record
class SetUpInputs:
    """
    One set-up: every key that was given, as in a station file.

    Keys left to their defaults are left out.

    Attributes
    ----------
    name : str
        What the operator calls it.
    shape : str
        Its shape.
    bands : tuple of str
        Bands it is used on.
    keys : dict
        Value as a station file holds it, in the unit its key ends in.
    """

    name: str
    shape: str
    bands: tuple[str, ...]
    keys: Mapping[str, str | float | int | bool | tuple[Any, ...]] = field(
        metadata={KEYS: ""}
    )


@record
class SolarInputs:
    """
    Solar activity.

    Attributes
    ----------
    basis : str
        Where the solar activity comes from.
    r12 : float
        12-month smoothed sunspot number, old scale, mean of the hours.
    r12_low : float
        Low end of its range.
    r12_high : float
        High end of its range.
    ig12 : float
        12-month ionospheric index that goes with it, for which foF2 is read.
    """

    basis: str
    r12: float
    r12_low: float
    r12_high: float
    ig12: float


@record
class LearnedInputs:
    """
    What a log taught of the station.

    Attributes
    ----------
    source : str
        Which log; empty if the file does not say.
    noise_db : dict of str to float
        How much more all noise here is, by band. [dB]
    level_db : dict of str to dict
        How much more a set-up sends, by set-up and band. [dB]
    far_end_db : float
        How much more gain the usual far end has. [dB]
    """

    source: str
    noise_db: Mapping[str, float]
    level_db: Mapping[str, Mapping[str, float]]
    far_end_db: float


@record
class QuestionInputs:
    """
    What was understood of the question.

    Attributes
    ----------
    place : Place
        Where from.
    targets : tuple of str
        Targets as understood, in the order asked; empty for reach all round.
    weights : tuple of str
        By what the points of each target are weighted.
    utc_first : str
        First hour, UTC to the minute, such as 2026-12-05T14:00Z.
    hours : int
        Number of hours.
    bands : tuple of str
        Bands looked at, lowest frequency first.
    emission : Emission
        What is sent and what it needs.
    power_w : float
        Power of the radio. [W]
    noise : str
        Noise here, by kind of place.
    noise_trim_db : float
        Added to that noise. [dB]
    ground : str
        Kind of ground.
    horizon_deg : float
        Elevation of the horizon, whose edge weakens flat rays. [deg]
    horizon : tuple of (float, float)
        Profile of the horizon, azimuth and elevation there; empty without one, then
        horizon_deg holds all round. [deg]
    far_end : FarEnd
        The station at the other end, an assumption.
    setups : tuple of SetUpInputs
        Set-ups asked about.
    solar : SolarInputs
        Solar activity.
    long_path : bool
        Whether the long way round is asked about.
    conditions : ConditionsInputs
        What is known of the sky besides the month.
    assumed : tuple of str
        What else is assumed of sky and station, in words.
    left_out : tuple of LeftOut
        Set-ups that cannot be hung on some of the bands.
    learned : LearnedInputs
        What a log taught of the station, if one did.
    emissions : tuple of Emission
        All that were asked about, where there are several.
    """

    place: Place
    targets: tuple[str, ...]
    weights: tuple[str, ...]
    utc_first: Utc
    hours: Count
    bands: tuple[str, ...]
    emission: Emission
    power_w: float
    noise: str
    noise_trim_db: float
    ground: str
    horizon_deg: float
    horizon: tuple[tuple[float, float], ...]
    far_end: FarEnd
    setups: tuple[SetUpInputs, ...]
    solar: SolarInputs
    long_path: bool
    conditions: ConditionsInputs
    assumed: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    learned: LearnedInputs = field(default=LEFT_OUT, kw_only=True)
    emissions: tuple[Emission, ...] = field(default=LEFT_OUT, kw_only=True)


def setup_inputs(setup: SetUp) -> SetUpInputs:
    """
    Write what was given of a set-up.

    Parameters
    ----------
    setup : SetUp
        The set-up.

    Returns
    -------
    inputs : SetUpInputs
        As a station file holds it.
    """
    keys = setup.as_mapping()
    own = {name: keys.pop(name) for name in ("name", "shape", "bands")}
    return SetUpInputs(**own, keys=keys)


def conditions_inputs(conditions: Conditions) -> ConditionsInputs:
    """
    Write what is assumed of the sky.

    Parameters
    ----------
    conditions : Conditions
        What is assumed.

    Returns
    -------
    inputs : ConditionsInputs
        The same.
    """
    return filled(
        ConditionsInputs,
        conditions,
        soundings=tuple(
            filled(SoundingInputs, each, each.place, utc=utc_text(each.time))
            for each in conditions.soundings
        ),
        proton_flux_cm2_s_sr=conditions.proton_flux,
    )


def question_inputs(question: Question) -> QuestionInputs:
    """
    Write what was understood of a question.

    Parameters
    ----------
    question : Question
        What was asked.

    Returns
    -------
    inputs : QuestionInputs
        For every command that puts one.
    """
    station, solar = question.station, question.solar
    return filled(
        QuestionInputs,
        question,
        station,
        targets=tuple(target.name for target in question.targets),
        weights=tuple(target.weight_source for target in question.targets),
        utc_first=utc_text(question.times[0]),
        hours=int(question.times.size),
        bands=tuple(band.name for band in question.bands),
        setups=tuple(setup_inputs(setup) for setup in station.setups),
        solar=SolarInputs(
            solar.basis,
            float(solar.r12.mean()),
            float(solar.low.mean()),
            float(solar.high.mean()),
            float(solar.ig12.mean()),
        ),
        conditions=conditions_inputs(question.conditions),
        assumed=question.assumed,
        learned=learned_inputs(station),
    )


def learned_inputs(station: Station) -> LearnedInputs:
    """
    Write what a log taught.

    Parameters
    ----------
    station : Station
        The station.

    Returns
    -------
    inputs : LearnedInputs
        Left out if none did.
    """
    if not station.taught:
        return LEFT_OUT  # type: ignore[no-any-return]
    levels = {each.name: dict(each.level_db) for each in station.setups}
    return LearnedInputs(
        source=station.learned.source,
        noise_db=dict(station.learned.noise_db),
        level_db={name: each for name, each in levels.items() if each},
        far_end_db=station.learned.far_end_db,
    )
