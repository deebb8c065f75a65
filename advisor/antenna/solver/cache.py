"""
Solved wires kept on disk, so that the same wire is not solved twice.

A file holds what is wanted of one wire on one frequency over one ground. Its name is
a hash of the question: wires, feed, frequency, ground, and the solver's own source,
so that an answer of another version is never read. How processes share the files, and
what happens to damaged ones, is in `advisor.antenna.solver.cache_files`.
"""

from __future__ import annotations

import contextlib
import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from advisor.antenna.ground import Ground
from advisor.antenna.pattern import Pattern
from advisor.antenna.solver.cache_files import DAMAGE, Arrays, fetch, keep
from advisor.antenna.solver.currents import Solution, solve
from advisor.antenna.solver.farfield import pattern_of
from advisor.antenna.wires import WireModel
from geo.arrays import Floats

_SOLVER = (
    "exposure",
    "solver/farfield",
    "ground",
    "solver/sommerfeld",
    "solver/mesh",
    "solver/contact",
    "solver/currents",
    "solver/sweep",
    "solver/nearfield",
    "pattern",
    "solver/planewaves",
    "solver/kernel",
    "solver/segments",
    "solver/symmetry",
    "wires",
)


@dataclass(frozen=True, eq=False)
class SolvedWire:
    """
    What is wanted of a wire on one frequency.

    Attributes
    ----------
    z_ohm : complex
        Impedance at its feedpoint. [ohm]
    pattern : Pattern
        Sky pattern for power into the wire.
    conductor_share, load_share : float
        Parts of that power lost in conductors and loads.
    ground_share : float
        Part that enters a real ground.
    """

    z_ohm: complex
    pattern: Pattern
    conductor_share: float
    load_share: float
    ground_share: float


def solve_wire(
    model: WireModel,
    frequency_mhz: float,
    soil: Ground,
    cache_dir: Path | None = None,
    *,
    is_kept: bool = True,
) -> SolvedWire:
    """
    Solve a wire, or fetch it from the cache.

    Parameters
    ----------
    model : WireModel
        Wires, one feed, loads.
    frequency_mhz : float
        Frequency. [MHz]
    soil : Ground
        Ground below.
    cache_dir : pathlib.Path, optional
        Directory of the files; without it nothing is read or written.
    is_kept : bool, optional
        Whether a wire that had to be solved goes into the cache: one of the many that
        a search tries would push out what is asked again. Tables of the ground are
        kept all the same.

    Returns
    -------
    solved : SolvedWire
        The same to the last bit, fetched or solved.

    Raises
    ------
    geo.errors.InputError
        If the wire cannot be solved.
    """
    name = identity("solution", model, frequency_mhz, soil.eps_r, soil.sigma_s_m)
    found = fetch(cache_dir, name)
    if found is not None:
        with contextlib.suppress(*DAMAGE):
            return _from_arrays(found, frequency_mhz)
    solution = solve(model, frequency_mhz, soil, cache_dir=cache_dir)
    sky = pattern_of(solution)
    arrays: Arrays = {
        "z_ohm": np.asarray(solution.z_in_ohm[0]),
        "shares": _shares(solution, sky.efficiency),
        "vertical": sky.vertical,
        "horizontal": sky.horizontal,
    }
    if is_kept:
        keep(cache_dir, name, arrays)
    return _from_arrays(arrays, frequency_mhz)


def _shares(solution: Solution, efficiency: float) -> Floats:
    """Parts of the power: sky, conductors, loads, ground."""
    conductor = solution.conductor_w / solution.input_w
    load = solution.load_w / solution.input_w
    real = solution.ground is not None and not solution.ground.is_perfect
    rest = 1.0 - efficiency - conductor - load if real else 0.0
    return np.array([efficiency, conductor, load, rest])


def _from_arrays(arrays: Arrays, frequency_mhz: float) -> SolvedWire:
    """Make the record; a ValueError if the arrays are not what they should be."""
    vertical = np.asarray(arrays["vertical"], dtype=np.float64)
    rows, columns = vertical.shape
    if not all(np.isfinite(each).all() for each in arrays.values()):
        raise ValueError("a figure is no number")
    sky, conductor, load, ground_share = (float(s) for s in arrays["shares"])
    radiated = Pattern(
        np.linspace(0.0, 90.0, rows),
        np.linspace(0.0, 360.0, columns, endpoint=False),
        vertical,
        np.asarray(arrays["horizontal"], dtype=np.float64),
        sky,
        frequency_mhz,
    )
    z_ohm = complex(arrays["z_ohm"].item())
    return SolvedWire(z_ohm, radiated, conductor, load, ground_share)


def identity(kind: str, *question: object) -> str:
    """
    Say what a file answers, in a text that is the same only for the same question.

    Parameters
    ----------
    kind : str
        What is kept, in a word.
    *question : object
        Records and numbers whose representation says all that matters.

    Returns
    -------
    name : str
        The kind, the solver's version, the question.
    """
    return "\n".join([kind, solver_version(), *(repr(part) for part in question)])


@cache
def solver_version() -> str:
    """
    Name the solver by its own source, so that no edit is forgotten.

    Returns
    -------
    version : str
        A hash of the modules that decide what comes out.
    """
    digest = hashlib.sha256()
    for name in _SOLVER:
        with contextlib.suppress(OSError):
            digest.update((Path(__file__).parents[1] / f"{name}.py").read_bytes())
    return digest.hexdigest()[:16]
