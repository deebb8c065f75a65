"""
The impedance of one wire over a band, from a matrix filled a few times.

Its entries turn with the distance between two segments, or to the image of one; with
that turn taken out they change so slowly that a parabola through three fills follows
them. Each frequency then costs one solution of the equations.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from advisor.antenna.ground import Ground, complex_permittivity
from advisor.antenna.solver.currents import (
    mesh_for,
    reactions,
    solve_filled,
    wavenumber,
)
from advisor.antenna.solver.mesh import Mesh
from advisor.antenna.wires import WireModel
from geo.arrays import Complexes, Floats

_FILLS = 3


def impedance_over(
    model: WireModel,
    frequency_mhz: Floats,
    ground: Ground,
    planning_mhz: float,
    cache_dir: Path | None = None,
) -> Complexes:
    """
    Solve for the impedance at the first feed on frequencies near one another.

    Parameters
    ----------
    model : WireModel
        Wires, feeds and loads.
    frequency_mhz : numpy.ndarray
        Shape (F,), rising, within a quarter of each other. [MHz]
    ground : Ground
        What is below z = 0. Its conductivity goes with the frequency, so that its
        tables serve again: the impedance shifts by some tenths of a per cent.
    planning_mhz : float
        Where it is as stated, and what segments are cut for. [MHz]
    cache_dir : pathlib.Path, optional
        Where to keep the ground's tables between runs.

    Returns
    -------
    z_ohm : numpy.ndarray
        Shape (F,); within 1.5 % of what each frequency solved by itself gives. [ohm]

    Raises
    ------
    geo.errors.InputError
        As `advisor.antenna.solver.currents.solve`.
    """
    eps = complex(complex_permittivity(ground, planning_mhz))
    mesh = mesh_for(model, planning_mhz, ground)
    ways_m = _ways_m(mesh)
    nodes = wavenumber(1.0) * np.linspace(frequency_mhz[0], frequency_mhz[-1], _FILLS)
    slow = [
        [
            part * (k * np.exp(1j * k * way_m))[:, None, :, None]
            for part, way_m in zip(
                reactions(mesh, k, ground, eps, cache_dir), ways_m, strict=False
            )
        ]
        for k in nodes.tolist()
    ]
    found = np.empty(frequency_mhz.shape, dtype=np.complex128)
    for i, mhz in enumerate(frequency_mhz.tolist()):
        k = wavenumber(mhz)
        halves = sum(
            (np.exp(-1j * k * way_m) / k)[:, None, :, None]
            * sum(w * part for w, part in zip(_weights(nodes, k), parts, strict=True))
            for way_m, parts in zip(ways_m, zip(*slow, strict=True), strict=False)
        )
        found[i] = solve_filled(model, mhz, ground, mesh, halves, eps).z_in_ohm[0]
    return found


def _ways_m(mesh: Mesh) -> tuple[Floats, Floats]:
    """Distances between the middles of segments, and to those of images, (M, M)."""
    middle = 0.5 * (mesh.start_m + mesh.end_m)[mesh.kept]
    image = middle * [1.0, 1.0, -1.0]
    direct, mirrored = (
        np.linalg.norm(middle[:, None] - other, axis=-1) for other in (middle, image)
    )
    return direct, mirrored


def _weights(nodes: Floats, at: float) -> Floats:
    """Weigh the nodes of the parabola through them (Lagrange)."""
    others = [np.delete(nodes, i) for i in range(nodes.size)]
    return np.array(
        [
            np.prod((at - rest) / (node - rest))
            for node, rest in zip(nodes, others, strict=True)
        ]
    )
