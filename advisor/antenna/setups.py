"""Patterns of the station's set-ups and of what is assumed at the far end."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from advisor.antenna.closedform import (
    dipole_pattern,
    half_wave_vertical_pattern,
    isotropic_pattern,
    quarter_wave_vertical_pattern,
    wavelength_m,
)
from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.bands import Band
from advisor.station import FarEnd, SetUp

FAR_END_GROUND = "average"
"""Ground assumed under the far end's antenna."""

SHAPE_PATTERNS: dict[str, Callable[[SetUp, float, Ground], Pattern]] = {
    "dipole": lambda setup, mhz, ground: dipole_pattern(
        mhz, setup.dimension("height_m"), ground
    ),
    "quarter-wave vertical": lambda setup, mhz, ground: quarter_wave_vertical_pattern(
        mhz, ground, setup.dimension("ground_loss_ohm")
    ),
    "half-wave vertical": lambda setup, mhz, ground: half_wave_vertical_pattern(
        mhz, setup.dimension("base_height_m"), ground
    ),
}
"""How the pattern of each shape is found: set-up, frequency in MHz, ground."""

FAR_END_PATTERNS: dict[str, Callable[[float, Ground], Pattern]] = {
    "dipole": lambda mhz, ground: dipole_pattern(mhz, 0.5 * wavelength_m(mhz), ground),
    "isotropic": lambda mhz, _: isotropic_pattern(mhz),
    "vertical": lambda mhz, ground: quarter_wave_vertical_pattern(mhz, ground),
}
"""How the far end's pattern is found: frequency in MHz, ground."""


def setup_patterns(
    setup: SetUp, bands: Iterable[Band], ground: str
) -> dict[str, Pattern]:
    """
    Work out a set-up's pattern on every band it is cut for.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    bands : iterable of Band
        Bands asked about.
    ground : str
        Name of the ground under it.

    Returns
    -------
    patterns : dict of str to Pattern
        By band name; bands the set-up is not cut for are left out.
    """
    soil = ground_by_name(ground)
    make = SHAPE_PATTERNS[setup.shape]
    return {
        band.name: make(setup, band.planning_mhz, soil)
        for band in bands
        if band.name in setup.bands
    }


def far_end_patterns(far_end: FarEnd, bands: Iterable[Band]) -> dict[str, Pattern]:
    """
    Work out the pattern of what is assumed at the far end on every band.

    Parameters
    ----------
    far_end : FarEnd
        The assumption: a half-wave dipole half a wavelength up, an isotropic
        radiator, or a quarter-wave vertical.
    bands : iterable of Band
        Bands asked about.

    Returns
    -------
    patterns : dict of str to Pattern
        By band name.
    """
    soil = ground_by_name(FAR_END_GROUND)
    make = FAR_END_PATTERNS[far_end.antenna]
    return {band.name: make(band.planning_mhz, soil) for band in bands}
