"""How far to keep people off the wires, and by which method, in words."""

from __future__ import annotations

import math
from collections.abc import Iterable

from advisor.antenna.exposure import LEAST_DISTANCE_M, ExposureDistance
from advisor.show.text.cells import Cell

FORMULA_MARK = "f"
"""Stands behind a distance that is not from the near field of the wire."""


def metres_up(distance_m: float) -> str:
    """
    Write an exposure distance, a tenth of a metre upwards.

    Parameters
    ----------
    distance_m : float
        Distance. [m]

    Returns
    -------
    figures : str
        Never less than the distance.

    Examples
    --------
    >>> metres_up(0.31), metres_up(3.0), metres_up(3.41)
    ('0.4', '3', '3.5')
    """
    return f"{math.ceil(10.0 * distance_m - 1e-9) / 10.0:.1f}".removesuffix(".0")


def exposure_cell(exposure: ExposureDistance) -> Cell:
    """
    Set an exposure distance in a cell, never rounded downwards.

    Parameters
    ----------
    exposure : ExposureDistance
        The distance.

    Returns
    -------
    cell : Cell
        `FORMULA_MARK` behind those of the formula, the distance in full behind it.
    """
    figures = metres_up(exposure.distance_m)
    mark = "" if exposure.solved else f" {FORMULA_MARK}"
    exact = repr(float(exposure.distance_m))
    return Cell(f"{figures} m{mark}", exact, short=f"{figures}{mark}")


def method_words(exposures: Iterable[ExposureDistance]) -> str:
    """
    Say what the distances of a table are, and by which method.

    Parameters
    ----------
    exposures : iterable of ExposureDistance
        All that the table shows.

    Returns
    -------
    words : str
        One or two sentences.
    """
    solved = [exposure.solved for exposure in exposures]
    near = "worked out in the near field of this very wire"
    formula = (
        f"by the general formula (marked {FORMULA_MARK}), which errs on the far side"
    )
    how = f"{near}, or {formula}"
    if all(solved) or not any(solved):
        how = near if all(solved) else formula
    return (
        "Exposure: how far off public reference levels of ICNIRP 2020 are met while "
        f"you send all the time, {how}. Estimates, rounded upwards."
    )


def least_words(worked_out_m: Iterable[float]) -> str:
    """
    Say why people are kept farther away than was worked out.

    Parameters
    ----------
    worked_out_m : iterable of float
        The distances worked out. [m]

    Returns
    -------
    words : str
        One sentence; empty where the longest is at least `LEAST_DISTANCE_M`.

    Examples
    --------
    >>> least_words([0.31, 0.12])
    'That is the least kept here; worked out is 0.4 m.'
    """
    found = max(worked_out_m, default=math.inf)
    if found >= LEAST_DISTANCE_M:
        return ""
    return f"That is the least kept here; worked out is {metres_up(found)} m."
