"""The rows of hops off layers, and of the sky over a place and a path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from advisor.answers.rows.inputs import ConditionsInputs, Form
from geo.fields import KEYS, LEFT_OUT, Utc, record


@record
class HopSky:
    """
    Layers that rays of one hop go through, the same all along it.

    Attributes
    ----------
    name : str
        What the rows call them.
    foe_mhz : float
        foE. [MHz]
    fof1_mhz : float
        foF1; NaN where there is no such layer. [MHz]
    fof2_mhz : float
        foF2. [MHz]
    hmf2_km : float
        Height of the F2 peak. [km]
    semi_f2_km : float
        Semi-thickness of the F2 layer. [km]
    gyro_mhz : float
        Electron gyrofrequency; 0 where the magnetic field is left out. [MHz]
    f1_share : float
        How far the F1 layer stands out, 0 to 1.
    """

    name: str
    foe_mhz: float
    fof1_mhz: float
    fof2_mhz: float
    hmf2_km: float
    semi_f2_km: float
    gyro_mhz: float
    f1_share: float


@record
class HopInputs:
    """
    What was understood.

    Attributes
    ----------
    bands : tuple of str
        Bands.
    distance_km : tuple of float
        Hop lengths asked for; empty for the usual ones. [km]
    utc : str or None
        Hour of the layers over the place, UTC to the minute; None without a place.
    solar : str or None
        Solar activity and where it comes from; None without a place.
    assumed : tuple of str
        What else is assumed of the sky, in words.
    skies : tuple of HopSky
        The layers.
    """

    bands: tuple[str, ...]
    distance_km: tuple[float, ...]
    utc: Utc | None
    solar: str | None
    assumed: tuple[str, ...]
    skies: tuple[HopSky, ...]


@record
class HopRow:
    """
    One ray of one hop, or a distance at which none lands.

    Attributes
    ----------
    sky : str
        Name of the layers.
    band : str
        Band.
    frequency_mhz : float
        Its frequency. [MHz]
    distance_km : float
        Hop length. [km]
    layer : str
        Layer that turns the ray: E, F1 or F2; empty where no ray lands.
    ray : str
        Low or high; empty where no ray lands.
    takeoff_deg : float
        Take-off angle; NaN where no ray lands. [deg]
    apogee_km : float
        Greatest height; NaN where no ray lands. [km]
    group_km : float
        Group path; NaN where no ray lands. [km]
    gathered_db : float
        What neighbouring rays gather over plain spreading; NaN where no ray lands. [dB]
    skip_km : float
        Nearest distance at which a ray lands, 0 for straight up and down; NaN if up to
        4000 km none does. [km]
    """

    sky: str
    band: str
    frequency_mhz: float
    distance_km: float
    layer: str
    ray: str
    takeoff_deg: float
    apogee_km: float
    group_km: float
    gathered_db: float
    skip_km: float


HOPS_FORM = Form("hops", HopInputs, HopRow)


@record
class SkyInputs:
    """
    What was understood.

    Attributes
    ----------
    place : str
        The place as it was given.
    lat_deg : float
        Latitude. [deg]
    lon_deg : float
        Longitude. [deg]
    solar : str
        Solar activity and where it comes from.
    bands : tuple of str
        Bands with a skip distance.
    conditions : ConditionsInputs
        What is known of the sky besides the month.
    assumed : tuple of str
        What else is assumed of the sky, in words.
    """

    place: str
    lat_deg: float
    lon_deg: float
    solar: str
    bands: tuple[str, ...]
    conditions: ConditionsInputs
    assumed: tuple[str, ...]


@record
class LayersRow:
    """
    One hour over a place.

    Attributes
    ----------
    utc : str
        Beginning of the hour, UTC to the minute, such as 2026-12-05T14:00Z.
    sun_elevation_deg : float
        Elevation of the sun on the ground. [deg]
    foe_mhz : float
        Median foE. [MHz]
    fof1_mhz : float
        Median foF1; NaN where there is no such layer. [MHz]
    fof2_mhz : float
        Median foF2. [MHz]
    fof2_lower_mhz : float
        Lower decile of foF2 over the days, error of the map included. [MHz]
    fof2_upper_mhz : float
        Upper decile of foF2 over the days, error of the map included. [MHz]
    hmf2_km : float
        Height of the F2 peak. [km]
    m3000f2 : float
        M(3000)F2.
    f2_muf_0km_mhz : float
        Median MUF of F2 straight up and down. [MHz]
    f2_muf_1000km_mhz : float
        Median MUF of one F2 hop of 1000 km. [MHz]
    f2_muf_3000km_mhz : float
        Median MUF of one F2 hop of 3000 km. [MHz]
    foes_lower_mhz : float
        Lower decile of foEs. [MHz]
    foes_mhz : float
        Median foEs. [MHz]
    foes_upper_mhz : float
        Upper decile of foEs. [MHz]
    muf_500km_mhz : float
        Median MUF of one hop of 500 km off E or F2; NaN if the hop is too long for
        both. [MHz]
    muf_1000km_mhz : float
        Median MUF of one hop of 1000 km off E or F2; NaN if the hop is too long for
        both. [MHz]
    muf_2000km_mhz : float
        Median MUF of one hop of 2000 km off E or F2; NaN if the hop is too long for
        both. [MHz]
    muf_3000km_mhz : float
        Median MUF of one hop of 3000 km off E or F2; NaN if the hop is too long for
        both. [MHz]
    muf_4000km_mhz : float
        Median MUF of one hop of 4000 km off E or F2; NaN if the hop is too long for
        both. [MHz]
    skip_km : dict of str to float
        Nearest distance that E or F2 serves on half of the days on the band in the
        key, 0 for straight up and down; NaN if up to 4000 km none is. [km]
    """

    utc: Utc
    sun_elevation_deg: float
    foe_mhz: float
    fof1_mhz: float
    fof2_mhz: float
    fof2_lower_mhz: float
    fof2_upper_mhz: float
    hmf2_km: float
    m3000f2: float
    f2_muf_0km_mhz: float
    f2_muf_1000km_mhz: float
    f2_muf_3000km_mhz: float
    foes_lower_mhz: float
    foes_mhz: float
    foes_upper_mhz: float
    muf_500km_mhz: float
    muf_1000km_mhz: float
    muf_2000km_mhz: float
    muf_3000km_mhz: float
    muf_4000km_mhz: float
    skip_km: Mapping[str, float] = field(metadata={KEYS: "^skip_[0-9]+m_km$"})


@record
class PathRow:
    """
    One hour over a path; only with a target.

    Attributes
    ----------
    path_muf_mhz : float
        Highest frequency returned on half of the days; NaN where there is none. [MHz]
    path_muf_mode : str
        Mode it goes by; empty where there is none.
    path_fot_mhz : float
        Highest frequency returned on nine days in ten; NaN where there is none. [MHz]
    path_luf_mhz : float
        Lowest frequency at which the median signal meets the need; NaN where there is
        none. [MHz]
    sun_here_deg : float
        Elevation of the sun here. [deg]
    sun_middle_deg : float
        Elevation of the sun at the middle of the path. [deg]
    sun_far_deg : float
        Elevation of the sun at the far end. [deg]
    """

    path_muf_mhz: float = LEFT_OUT
    path_muf_mode: str = LEFT_OUT
    path_fot_mhz: float = LEFT_OUT
    path_luf_mhz: float = LEFT_OUT
    sun_here_deg: float = LEFT_OUT
    sun_middle_deg: float = LEFT_OUT
    sun_far_deg: float = LEFT_OUT


@record
class SkyRow(PathRow, LayersRow):
    """One hour; fields of the path only with --to."""


@record
class SunTimes:
    """
    The sun in the 24 hours from the first hour, UTC to the minute.

    Attributes
    ----------
    ground_rise : str or None
        Rise at the ground; None where it does not happen.
    ground_set : str or None
        Set at the ground; None where it does not happen.
    ground_civil_dawn : str or None
        Civil dawn at the ground; None where it does not happen.
    ground_civil_dusk : str or None
        Civil dusk at the ground; None where it does not happen.
    ground_nautical_dawn : str or None
        Nautical dawn at the ground; None where it does not happen.
    ground_nautical_dusk : str or None
        Nautical dusk at the ground; None where it does not happen.
    ground_always : str or None
        Up in polar day, down in polar night; None elsewhere.
    e_layer_rise : str or None
        Rise of the sun at 110 km; None where it does not happen.
    e_layer_set : str or None
        Set of the sun at 110 km; None where it does not happen.
    e_layer_always : str or None
        Up or down if the sun is all day at 110 km; None elsewhere.
    f2_layer_rise : str or None
        Rise of the sun at 300 km; None where it does not happen.
    f2_layer_set : str or None
        Set of the sun at 300 km; None where it does not happen.
    f2_layer_always : str or None
        Up or down if the sun is all day at 300 km; None elsewhere.
    """

    ground_rise: Utc | None
    ground_set: Utc | None
    ground_civil_dawn: Utc | None
    ground_civil_dusk: Utc | None
    ground_nautical_dawn: Utc | None
    ground_nautical_dusk: Utc | None
    ground_always: str | None
    e_layer_rise: Utc | None
    e_layer_set: Utc | None
    e_layer_always: str | None
    f2_layer_rise: Utc | None
    f2_layer_set: Utc | None
    f2_layer_always: str | None


@record
class PathFacts:
    """
    What is known of a path besides its hours.

    Attributes
    ----------
    target : str
        Name of the target.
    lat_deg : float
        Latitude of the far end; of a target of several points that of median distance.
        [deg]
    lon_deg : float
        Longitude of the far end. [deg]
    distance_km : float
        Length of the path. [km]
    bearing_deg : float
        Its bearing here, true. [deg]
    circuit : str
        What the LUF holds for, in words.
    sun : dict of str to SunTimes
        The sun here, at the middle and at the far end.
    """

    target: str
    lat_deg: float
    lon_deg: float
    distance_km: float
    bearing_deg: float
    circuit: str
    sun: Mapping[str, SunTimes]


@record
class SkyDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    sun : SunTimes
        The sun in the 24 hours from the first hour.
    path : PathFacts
        The path; only with --to.
    """

    sun: SunTimes
    path: PathFacts = LEFT_OUT


SKY_FORM = Form("sky", SkyInputs, SkyRow, SkyDetails)
