"""
The ground wave of a question's paths: over land as it is at my end, over sea, or both.

`advisor.propagation.groundwave` has the formulas; here the paths are cut where the
coast is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.ground import complex_permittivity, ground_by_name
from advisor.propagation.groundwave import (
    field_to_loss_db,
    ground_wave_field_dbuv_m,
    mixed_path_field_dbuv_m,
)
from advisor.propagation.kept import kept
from advisor.propagation.losses import LAND, SEA
from geo.land import is_land
from geo.paths import NEAR_END, Paths
from geo.sphere import destination

MOST_LOSS_DB = 240.0
"""Where even the sea takes more the ground wave is let go: 1.5 kW is then 40 dB too
weak for the slowest emission in the least noise, see
`advisor.reliability.chance.FAINT_DB`. That is 540 km out on 28 MHz, 1000 km on 14 MHz
and 3100 km on 1.8 MHz. [dB]"""

_NEAREST_KM = 1.0
"""Nearest distance the ground wave is worked out for. [km]"""

_FARTHEST_KM = 3500.0
"""Beyond this no frequency from 1.5 MHz up is within `MOST_LOSS_DB`. [km]"""

_STEPS = 120
"""Steps that a path is sampled in: 27 km at the farthest, as fine as the coast."""

_WATERS = (SEA, "fresh water")


def ground_loss_db(
    paths: Paths,
    frequency_mhz: NDArray[np.float64],
    ground: str,
    cache_dir: Path | None = None,
) -> NDArray[np.float64]:
    """
    Loss of the ground wave of every path.

    Parameters
    ----------
    paths : Paths
        P paths.
    frequency_mhz : numpy.ndarray
        Shape (B,). [MHz]
    ground : str
        Kind of ground at my end; taken for all the land on the way, unless it is a
        water, when the land is "land".
    cache_dir : pathlib.Path, optional
        Where it is kept between runs: its special functions are slow to load.

    Returns
    -------
    loss_db : numpy.ndarray
        Shape (P, B); infinite where it would be over `MOST_LOSS_DB` over sea. [dB]

    Notes
    -----
    Land and sea are those of `geo.land`, a few tens of kilometres off at the coast
    and without small islands. Mixed paths go by Millington's method.
    """
    eps = {
        True: complex_permittivity(
            ground_by_name(LAND if ground in _WATERS else ground), frequency_mhz
        ),
        False: complex_permittivity(ground_by_name(SEA), frequency_mhz),
    }
    asked = [getattr(paths, field.name) for field in fields(paths)]
    found = kept(
        "ground-wave",
        [*asked, frequency_mhz, *eps.values()],
        lambda: {"loss_db": _loss_db(paths, frequency_mhz, eps)},
        cache_dir,
    )
    return found["loss_db"]


def _loss_db(
    paths: Paths,
    frequency_mhz: NDArray[np.float64],
    eps: Mapping[bool, NDArray[np.complex128]],
) -> NDArray[np.float64]:
    """Work it out, with the ground's permittivity on land and off it."""
    loss = np.full((paths.distance_km.size, frequency_mhz.size), np.inf)
    least = _least_loss_db(paths.distance_km, frequency_mhz, eps[False])
    near = np.flatnonzero((least <= MOST_LOSS_DB).any(axis=-1))
    if not near.size:
        return loss
    distance = np.maximum(paths.distance_km[near], _NEAREST_KM)
    on_land = _on_land(paths, near)
    found = least[near]
    alike = on_land.all(axis=-1)
    if alike.any():
        found[alike] = _loss_over_db(distance[alike], frequency_mhz, eps[True])
    mixed = np.flatnonzero(on_land.any(axis=-1) & ~alike)
    if mixed.size:
        share, land_section = _sections(on_land[mixed])
        field = mixed_path_field_dbuv_m(
            frequency_mhz,
            share[:, None, :] * distance[mixed, None, None],
            np.where(land_section[:, None, :], eps[True][:, None], eps[False][:, None]),
        )
        found[mixed] = field_to_loss_db(frequency_mhz, field)
    loss[near] = np.where(least[near] <= MOST_LOSS_DB, found, np.inf)
    return loss


def _loss_over_db(
    distance_km: NDArray[np.float64],
    frequency_mhz: NDArray[np.float64],
    eps: NDArray[np.complex128],
) -> NDArray[np.float64]:
    """Loss over one kind of ground, (P, B)."""
    field = ground_wave_field_dbuv_m(frequency_mhz, distance_km[:, None], eps)
    return field_to_loss_db(frequency_mhz, field)


def _least_loss_db(
    distance_km: NDArray[np.float64],
    frequency_mhz: NDArray[np.float64],
    eps: NDArray[np.complex128],
) -> NDArray[np.float64]:
    """Loss if all of the way were sea, (P, B), which no other ground goes below."""
    distance = np.maximum(distance_km, _NEAREST_KM)
    loss = np.full((distance.size, frequency_mhz.size), np.inf)
    near = distance <= _FARTHEST_KM
    loss[near] = _loss_over_db(distance[near], frequency_mhz, eps)
    return loss


def _on_land(paths: Paths, near: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether the middle of each step of some paths is on land, (N, 120)."""
    lat, lon = destination(
        paths.control_lat_deg[near, NEAR_END, None],
        paths.control_lon_deg[near, NEAR_END, None],
        paths.bearing_deg[near, None],
        paths.distance_km[near, None] * (np.arange(_STEPS) + 0.5) / _STEPS,
    )
    return is_land(lat, lon)


def _sections(
    on_land: NDArray[np.bool_],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """
    Join equal steps of mixed paths: share of the path and kind of each section.

    Paths with fewer sections than others have some of no length after the first,
    which Millington's sum passes over.
    """
    shares, kinds = [], []
    starts = [np.flatnonzero(np.diff(row, prepend=~row[:1])) for row in on_land]
    most = max(start.size for start in starts)
    for row, start in zip(on_land, starts, strict=True):
        padded = np.insert(start, 1, np.full(most - start.size, start[1]))
        shares.append(np.diff(padded, append=_STEPS) / _STEPS)
        kinds.append(row[padded])
    return np.array(shares), np.array(kinds)
