"""
The quarter-wave upright on the ground, solved over radials in the grass.

It stands beside every wire as the vertical that others are measured against, and it
is a shape of its own. Its radials are counted a few centimetres above the soil, as they
lie in grass: the solver asks for wires that do not touch. What a poorer earth system
adds is a stated resistance at the foot.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from advisor.antenna.closedform import wavelength_m
from advisor.antenna.ground import Ground
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.parts import Conductor
from advisor.antenna.shapes.upright import vertical
from advisor.antenna.solver.cache import SolvedWire, solve_wire

RADIALS_N = 8
"""Radials of a quarter-wave each, evenly round the foot: common practice, no source."""

IN_GRASS_M = 0.05
"""How high they lie. At 0.02 m the gain of 16 is less by 0.01 dB. [m]"""

RESONANT = 0.243
"""Length of the upright: a wire resonates a little short of a quarter wave. [waves]"""

_KEPT = 48


@lru_cache(maxsize=_KEPT)
def earthed_vertical(
    frequency_mhz: float,
    ground: Ground,
    loss_ohm: float = 0.0,
    cache_dir: Path | None = None,
) -> SolvedWire:
    """
    Solve a quarter-wave upright over `RADIALS_N` radials in the grass.

    Parameters
    ----------
    frequency_mhz : float
        Frequency that it is cut for. [MHz]
    ground : Ground
        Ground below and around.
    loss_ohm : float, optional
        What the earth system loses beyond that of those radials, 0 or more. [ohm]
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    solved : SolvedWire
        Sky pattern and losses for power at the foot. Its impedance is a resistance:
        the upright is trimmed to that.

    Raises
    ------
    geo.errors.InputError
        If the frequency is no positive number.

    Examples
    --------
    >>> from advisor.antenna.ground import ground_by_name
    >>> solved = earthed_vertical(14.1, ground_by_name("average"))
    >>> float(solved.pattern.gain_dbi(5.0, 0.0))
    -6.7
    """
    whole_m = wavelength_m(frequency_mhz)
    hung = vertical(
        length_m=RESONANT * whole_m,
        feed_height_m=IN_GRASS_M,
        radials_n=float(RADIALS_N),
        radial_m=0.25 * whole_m,
        conductor=Conductor(),
    )
    solved = solve_wire(hung.model(), frequency_mhz, ground, cache_dir)
    foot_ohm = solved.z_ohm.real
    kept = foot_ohm / (foot_ohm + loss_ohm)
    return SolvedWire(
        complex(foot_ohm + loss_ohm),
        solved.pattern.weakened_by(float(-10.0 * np.log10(kept))),
        conductor_share=kept * solved.conductor_share,
        load_share=0.0,
        ground_share=1.0 - kept * (1.0 - solved.ground_share),
    )


def earthed_pattern(
    frequency_mhz: float, ground: Ground, cache_dir: Path | None = None
) -> Pattern:
    """
    Give the pattern of `earthed_vertical` with no further loss.

    Parameters
    ----------
    frequency_mhz : float
        Frequency that it is cut for. [MHz]
    ground, cache_dir
        See `earthed_vertical`.

    Returns
    -------
    pattern : Pattern
        On the standard grid.
    """
    return earthed_vertical(frequency_mhz, ground, 0.0, cache_dir).pattern
