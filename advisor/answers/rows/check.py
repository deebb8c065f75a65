"""The rows of a log held against what is told, and what stands beside them."""

from __future__ import annotations

from advisor.answers.rows.inputs import Form
from advisor.logs.sightings import Broken
from geo.fields import Share, Utc, Whole, record


@record
class CheckInputs:
    """
    What was understood.

    Attributes
    ----------
    files : tuple of str
        Names of the files.
    place : str
        My place, where the rows do not say.
    wires : tuple of str
        Set-ups, the best of which was told; empty for the usual dipole.
    bands : tuple of str
        Bands in the files.
    first, last : str
        First and last moment, UTC to the minute.
    rows : int
        Rows that were understood.
    far_ends : int
        Far ends.
    spots : int
        Rows of signals heard here or there.
    contacts : int
        Rows of contacts.
    names_failures : bool
        Whether the files name what was tried in vain.
    taken : float
        Share of the far ends, anew for every ten days, that was worked out.
    """

    files: tuple[str, ...]
    place: str
    wires: tuple[str, ...]
    bands: tuple[str, ...]
    first: Utc
    last: Utc
    rows: Whole
    far_ends: Whole
    spots: Whole
    contacts: Whole
    names_failures: bool
    taken: Share


@record
class CheckRow:
    """
    Some of the times a way was tried: what was told of them and what came.

    Attributes
    ----------
    part : str
        What they have in common: all, band, hours, distance, way, or band and hours.
    name : str
        Which of these.
    tried : int
        Times that can be held against a chance.
    days : int
        Days on which they were.
    said : float
        Mean chance told; NaN of none.
    came : float
        Share that came so; NaN of none.
    off : float
        The first less the second; NaN of none.
    off_error : float
        Standard error of that, hours of a day going together; NaN of one day.
    brier : float
        Mean squared error of the chances; NaN of none.
    skill : float
        How much better that is than what is usual of the band and hour, 1 is perfect;
        NaN of none.
    levels : int
        Times with a level.
    level_off_db : float
        Level told less that heard, mean; NaN of none. [dB]
    level_error_db : float
        Standard error of that; NaN of one day or under five levels. [dB]
    contacts : int
        Contacts, which are only ranked.
    chance : float
        Mean chance told of them; NaN of none.
    hour_rank : float
        Share of the other hours of the day that are told a lower chance, one half is
        no knowledge; NaN of none.
    band_rank : float
        Share of the other bands of the files in that hour; NaN of one band.
    hour_rank_error, band_rank_error : float
        Standard errors of those; NaN of one day or under five contacts.
    """

    part: str
    name: str
    tried: Whole
    days: Whole
    said: float
    came: float
    off: float
    off_error: float
    brier: float
    skill: float
    levels: Whole
    level_off_db: float
    level_error_db: float
    contacts: Whole
    chance: float
    hour_rank: float
    band_rank: float
    hour_rank_error: float
    band_rank_error: float


@record
class Told:
    """
    Times that were told a chance of one tenth.

    Attributes
    ----------
    count : int
        How many.
    said : float
        Mean chance told; NaN of none.
    came : float
        Share that came so; NaN of none.
    error : float
        Standard error of that, hours of a day going together; NaN of none.
    """

    count: Whole
    said: float
    came: float
    error: float


@record
class BrierParts:
    """
    Mean squared error of chances, and what it is made of.

    Attributes
    ----------
    brier : float
        Mean squared error: reliability less resolution plus uncertainty.
    reliability : float
        How far what was told is off what came, 0 is perfect.
    resolution : float
        How far what came differs between what was told high and low.
    uncertainty : float
        What it would be to tell the mean always.
    """

    brier: float
    reliability: float
    resolution: float
    uncertainty: float


@record
class Score(BrierParts):
    """
    How good the chances are.

    Attributes
    ----------
    skill_of_band : float
        How much better than to tell what is usual of the band, 1 is perfect; NaN if
        that is perfect.
    skill_of_hours : float
        How much better than to tell what is usual of the band at that hour on the other
        days; NaN if that is perfect.
    """

    skill_of_band: float
    skill_of_hours: float


@record
class Surprise:
    """
    A time that came otherwise than told.

    Attributes
    ----------
    utc : str
        The hour, UTC.
    band : str
        Band.
    way : str
        Who heard whom.
    came : bool
        Whether it came.
    said : float
        Chance told.
    distance_km : float
        Distance. [km]
    lat_deg, lon_deg : float
        Place of the far end. [deg]
    emission : str
        What was sent; empty where the file does not say.
    own_power_w, far_power_w : float
        Powers; NaN where the file does not say. [W]
    why : str
        Command that lays the chance open.
    """

    utc: Utc
    band: str
    way: str
    came: bool
    said: Share
    distance_km: float
    lat_deg: float
    lon_deg: float
    emission: str
    own_power_w: float
    far_power_w: float
    why: str


@record
class LevelOff:
    """
    What brings the levels told of one way to those heard.

    Attributes
    ----------
    way : str
        Who heard whom.
    constant_db : float
        Taken off the levels told. [dB]
    error_db : float
        Standard error of that; NaN of one day or under five levels. [dB]
    rms_db : float
        What is then left, root of the mean square. [dB]
    """

    way: str
    constant_db: float
    error_db: float
    rms_db: float


@record
class Clock:
    """
    What the hours say of the clock of the log.

    Attributes
    ----------
    hours : int
        Hours by which its times fit best if they are moved.
    gain : float
        By how much its rows are then the likelier, mean of the logarithm.
    error : float
        Standard error of that; NaN of one day.
    is_off : bool
        Whether that is sure.
    """

    hours: int
    gain: float
    error: float
    is_off: bool


@record
class Correction:
    """
    What the levels teach of the station, in place of what it has learned before.

    Attributes
    ----------
    what : str
        Noise here, level of a set-up, or usual far end.
    band : str
        Band; empty for all.
    setup : str
        Set-up; empty for none.
    learned_db : float
        How much more than worked out, drawn towards none by how little was seen. [dB]
    error_db : float
        Error of that, the method's among it. [dB]
    seen_db : float
        What the rows say by themselves. [dB]
    seen_error_db : float
        Error of that, without the method's but for the far end. [dB]
    levels, days, far_ends : int
        How many levels, of how many days and far ends.
    """

    what: str
    band: str
    setup: str
    learned_db: float
    error_db: float
    seen_db: float
    seen_error_db: float
    levels: Whole
    days: Whole
    far_ends: Whole


@record
class CheckDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    diagram : tuple of Told
        By tenths of what was told.
    score : Score or None
        Of the chances as told; None where nothing can be held against one.
    levels : tuple of LevelOff
        What brings the levels right, by way.
    score_with_levels : Score or None
        Of the chances with that; None without levels.
    corrections : tuple of Correction
        What the levels teach; none if errors explain them.
    clock : Clock or None
        Of the log's clock; None of fewer than two days.
    surprises : tuple of Surprise
        The worst, those that came first.
    broken_rows : int
        Rows that could not be used.
    broken : tuple of Broken
        The first of them.
    """

    diagram: tuple[Told, ...]
    score: Score | None
    levels: tuple[LevelOff, ...]
    score_with_levels: Score | None
    corrections: tuple[Correction, ...]
    clock: Clock | None
    surprises: tuple[Surprise, ...]
    broken_rows: Whole
    broken: tuple[Broken, ...]


FORM = Form("check", CheckInputs, CheckRow, CheckDetails)
