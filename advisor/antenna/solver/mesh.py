"""
A wire model cut into short segments, with the basis functions on them.

Frame and model are those of `advisor.antenna.wires`.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from advisor.antenna.solver.segments import GROWTH, closest_approach, cut_stretch
from advisor.antenna.wires import SAME_PLACE_M, Wire, WireModel
from geo.arrays import Floats, Ints
from geo.errors import InputError

if TYPE_CHECKING:
    from scipy.sparse import csr_array

MOST_SEGMENTS = 1500
"""Most segments that are solved for: about 600 MB and 10 s of work."""

# A segment is longer than this many radii, or the thin-wire kernel fails.
_LEAST_RADII = 4.0
# The longest wire gets at least this many segments, however low the frequency.
_LEAST_SEGMENTS = 16
# Wires that leave one point at a smaller angle than this lie on each other.
_LEAST_ANGLE_DEG = 1.0


@dataclass(frozen=True)
class Mesh:
    """
    A wire model cut into segments, with its basis functions.

    Attributes
    ----------
    start_m, end_m : numpy.ndarray
        Shape (S, 3), ends of the segments in their wire's direction. [m]
    wire : numpy.ndarray
        Shape (S,), index of the wire each segment is part of.
    radius_m : numpy.ndarray
        Shape (S,). [m]
    junction : scipy.sparse.csr_array
        Shape (B, 2 S). Half function 2s falls from 1 at the start of segment s to 0
        at its end, 2s + 1 rises; a basis function is a signed sum of halves, so
        that current is conserved where wires meet.
    port_half : numpy.ndarray
        Shape (P,), the half function whose peak is the current through each source,
        then each load.
    """

    start_m: Floats
    end_m: Floats
    wire: Ints
    radius_m: Floats
    junction: csr_array
    port_half: Ints

    @functools.cached_property
    def length_m(self) -> Floats:
        """Lengths of the segments, shape (S,), metres."""
        span = self.end_m - self.start_m
        length: Floats = np.sqrt(np.sum(span**2, axis=1))
        return length

    @functools.cached_property
    def tangent(self) -> Floats:
        """Unit vectors along the segments, shape (S, 3)."""
        return (self.end_m - self.start_m) / self.length_m[:, None]


def build_mesh(
    model: WireModel,
    wavelength_m: float,
    *,
    over_ground: bool = False,
    touches_ground: bool = False,
    segments_per_wavelength: float = 20.0,
) -> Mesh:
    """
    Cut a model into segments and find its junctions.

    Segments are half as long at a feed as elsewhere and grow away from it; the two
    next to a gap are equal.

    Parameters
    ----------
    model : WireModel
        What is hung.
    wavelength_m : float
        Wavelength in free space. [m]
    over_ground : bool, optional
        Whether z = 0 is the surface of a ground.
    touches_ground : bool, optional
        Whether a wire may end on it (a perfect ground only).
    segments_per_wavelength : float, optional
        Away from feeds.

    Returns
    -------
    mesh : Mesh
        Segments and basis functions.

    Raises
    ------
    geo.errors.InputError
        If wires cross, lie on each other or are below ground; if a radius is not
        small against segment and wavelength; if a feed is at an open end.
    """
    if len(model.wires) > MOST_SEGMENTS:
        raise InputError(
            f"{len(model.wires)} straight pieces of wire were given and at most "
            f"{MOST_SEGMENTS} are solved: draw it with fewer points"
        )
    if over_ground:
        _check_heights(model, touches_ground)
    stops, nodes = _layout(model)
    cuts = _cuts(model, stops, nodes, wavelength_m, segments_per_wavelength)

    starts, ends, owner = [], [], []
    for index, wire in enumerate(model.wires):
        points = np.asarray(wire.start_m) + cuts[index][:, None] * wire.direction
        starts.append(points[:-1])
        ends.append(points[1:])
        owner.append(np.full(len(points) - 1, index))
    wire_of = np.concatenate(owner)
    radius = np.array([wire.radius_m for wire in model.wires])[wire_of]
    start, end = np.concatenate(starts), np.concatenate(ends)
    if touches_ground:
        start[np.abs(start[:, 2]) < SAME_PLACE_M, 2] = 0.0
        end[np.abs(end[:, 2]) < SAME_PLACE_M, 2] = 0.0
    junction = _junctions(model, cuts, stops, nodes, touches_ground)
    ports = _port_halves(model, cuts, junction)
    return Mesh(start, end, wire_of, radius, junction, ports)


@functools.lru_cache(maxsize=32)
def _layout(model: WireModel) -> tuple[list[Floats], _Nodes]:
    """Find what does not depend on frequency, once per model: stops and nodes."""
    _check_spacing(model)
    stops = _stops(model)
    return stops, _Nodes(model, stops)


def _check_heights(model: WireModel, touches_ground: bool) -> None:
    for wire in model.wires:
        low, high = sorted((wire.start_m[2], wire.end_m[2]))
        least = 2.0 * (wire.radius_m + wire.insulation_m)
        if touches_ground and abs(low) < SAME_PLACE_M:
            if high < max(least, SAME_PLACE_M):
                raise InputError(f"{wire.label} lies on the ground; raise it")
        elif low < 0.0:
            raise InputError(
                f"{wire.label} goes {-low:.4g} m below ground; heights start at 0"
            )
        elif low < max(least, 0.01):
            raise InputError(
                f"{wire.label} comes to {low:.4g} m from the ground; keep it 0.01 m "
                "and two radii above soil, or end it on a perfect ground"
            )


def _stops(model: WireModel) -> list[Floats]:
    """Distances along each wire that must be nodes: ends, ports, branches."""
    stops: list[Floats] = []
    ends = np.array([p for wire in model.wires for p in (wire.start_m, wire.end_m)])
    for index, wire in enumerate(model.wires):
        length = wire.length_m
        offset = ends - np.asarray(wire.start_m)
        along = offset @ wire.direction
        away = np.linalg.norm(offset - along[:, None] * wire.direction, axis=1)
        branches = along[(away < SAME_PLACE_M) & (along > 0.0) & (along < length)]
        ports = [port.at_m for port, _ in model.ports() if port.wire == index]
        wanted = np.sort(np.concatenate([branches, ports]))
        kept = [0.0]
        for place in wanted:
            if kept[-1] + SAME_PLACE_M < place < length - SAME_PLACE_M:
                kept.append(float(place))
        stops.append(np.array([*kept, length]))
    return stops


class _Nodes:
    """Which stops are the same point in space."""

    def __init__(self, model: WireModel, stops: list[Floats]) -> None:
        self.place = np.empty((sum(map(len, stops)), 3))
        self._count = 0
        self.of = [
            [self._id(wire.point(distance)) for distance in stop]
            for wire, stop in zip(model.wires, stops, strict=True)
        ]
        self.place = self.place[: self._count]

    def _id(self, point: Floats) -> int:
        """Index of the place a point is at, a new one if there is none."""
        gaps = np.linalg.norm(self.place[: self._count] - point, axis=1)
        if gaps.size:
            nearest = int(np.argmin(gaps))
            if gaps[nearest] < SAME_PLACE_M:
                return nearest
        self.place[self._count] = point
        self._count += 1
        return self._count - 1


def _near_pairs(model: WireModel) -> Iterator[tuple[Wire, Wire]]:
    """Pairs of wires whose boxes touch, in their order: no others can touch."""
    ends = np.array([(wire.start_m, wire.end_m) for wire in model.wires])
    thick = np.array([[wire.radius_m + wire.insulation_m] for wire in model.wires])
    low, high = ends.min(axis=1) - thick, ends.max(axis=1) + thick
    for index, wire in enumerate(model.wires):
        apart = (low[index + 1 :] > high[index]) | (high[index + 1 :] < low[index])
        for other in np.flatnonzero(~apart.any(axis=1)):
            yield wire, model.wires[index + 1 + int(other)]


def _check_spacing(model: WireModel) -> None:
    """Two wires may meet at an end of one of them, at an angle; nowhere else."""
    for a, b in _near_pairs(model):
        at_a, at_b, gap = closest_approach(a.start_m, a.end_m, b.start_m, b.end_m)
        if gap >= a.radius_m + a.insulation_m + b.radius_m + b.insulation_m:
            continue
        joined = [
            (p, q)
            for p, q in itertools.product((0.0, a.length_m), (0.0, b.length_m))
            if np.linalg.norm(a.point(p) - b.point(q)) < SAME_PLACE_M
        ]
        cosine = float(a.direction @ b.direction)
        if joined:
            p, q = joined[0]
            meet, problem = True, "lie on each other"
            cosine *= 1.0 if (p > 0.0) == (q > 0.0) else -1.0
        else:
            ends = min(at_a, a.length_m - at_a, at_b, b.length_m - at_b)
            meet, problem = max(gap, ends) < SAME_PLACE_M, "cross or touch"
            cosine = abs(cosine)
        if not meet or cosine > np.cos(np.radians(_LEAST_ANGLE_DEG)):
            where = "({:.4g}, {:.4g}, {:.4g})".format(*a.point(at_a))
            raise InputError(
                f"{a.label} and {b.label} {problem} near {where} m; "
                "let them meet at an end of one, or part them"
            )


def _cuts(
    model: WireModel,
    stops: list[Floats],
    nodes: _Nodes,
    wavelength_m: float,
    per_wavelength: float,
) -> list[Floats]:
    """Distances of all segment ends along each wire."""
    longest = max(wire.length_m for wire in model.wires)
    most = min(wavelength_m / per_wavelength, longest / _LEAST_SEGMENTS)
    size = np.full(len(nodes.place), most)
    fed: set[int] = set()
    for source in model.sources:
        stop = stops[source.wire]
        node = nodes.of[source.wire][int(np.argmin(np.abs(stop - source.at_m)))]
        sections = [
            span
            for ids, stop in zip(nodes.of, stops, strict=True)
            for a, b, span in zip(ids[:-1], ids[1:], np.diff(stop), strict=True)
            if node in (a, b)
        ]
        radius = model.wires[source.wire].radius_m
        target = max(0.5 * most, 1.25 * _LEAST_RADII * radius)
        shortest = min(sections)
        size[node] = min(size[node], shortest / np.ceil(shortest / target))
        fed.add(node)
    for _ in range(len(nodes.place)):
        before = size.copy()
        for ids, stop in zip(nodes.of, stops, strict=True):
            for a, b, span in zip(ids[:-1], ids[1:], np.diff(stop), strict=True):
                size[a] = min(size[a], size[b] + GROWTH * span)
                size[b] = min(size[b], size[a] + GROWTH * span)
        if np.array_equal(before, size):
            break

    # A matrix of n by n complex numbers is filled: refuse what no machine holds.
    least = sum(wire.length_m for wire in model.wires) / most
    if least > MOST_SEGMENTS:
        raise InputError(
            f"{least:.0f} segments are needed and at most {MOST_SEGMENTS} are solved: "
            "use fewer or shorter wires or radials, or a lower frequency"
        )
    cuts = []
    for wire, ids, stop in zip(model.wires, nodes.of, stops, strict=True):
        pieces = [np.zeros(1)]
        for a, b, low, high in zip(ids[:-1], ids[1:], stop[:-1], stop[1:], strict=True):
            inner = cut_stretch(
                high - low,
                (float(size[a]), float(size[b])),
                (a in fed, b in fed),
                most_m=most,
                least_m=_LEAST_RADII * wire.radius_m,
            )
            pieces.append(low + inner[1:])
        whole = np.concatenate(pieces)
        shortest_m = float(np.diff(whole).min())
        if shortest_m < _LEAST_RADII * wire.radius_m:
            raise InputError(
                f"{wire.label}: radius {wire.radius_m:.4g} m is not small against a "
                f"segment of {shortest_m:.4g} m; use a thinner or longer wire"
            )
        cuts.append(whole)
    return cuts


def _junctions(
    model: WireModel,
    cuts: list[Floats],
    stops: list[Floats],
    nodes: _Nodes,
    touches_ground: bool,
) -> csr_array:
    """Signed half functions that make up each basis function."""
    from scipy.sparse import csr_array

    # Per node: the halves that peak there, +1 where the segment leaves the node.
    meeting: dict[tuple[int, int], list[tuple[int, float]]] = {}
    first = 0
    for index in range(len(model.wires)):
        cut = cuts[index]
        node_ids: list[tuple[int, int]] = [(index + 1, k) for k in range(len(cut))]
        for node, distance in zip(nodes.of[index], stops[index], strict=True):
            node_ids[int(np.argmin(np.abs(cut - distance)))] = (0, node)
        for k in range(len(cut) - 1):
            meeting.setdefault(node_ids[k], []).append((2 * (first + k), 1.0))
            meeting.setdefault(node_ids[k + 1], []).append((2 * (first + k) + 1, -1.0))
        first += len(cut) - 1

    rows, columns, signs = [], [], []
    count = 0
    for (kind, node), halves in meeting.items():
        earthed = (
            touches_ground and kind == 0 and abs(nodes.place[node, 2]) < SAME_PLACE_M
        )
        if earthed:
            for half, sign in halves:
                rows.append(count)
                columns.append(half)
                signs.append(sign)
                count += 1
            continue
        reference, reference_sign = halves[0]
        for half, sign in halves[1:]:
            rows += [count, count]
            columns += [reference, half]
            signs += [-reference_sign, sign]
            count += 1
    return csr_array((signs, (rows, columns)), shape=(count, 2 * first))


def _port_halves(model: WireModel, cuts: list[Floats], junction: csr_array) -> Ints:
    """Half function through which each port's current flows."""
    first = np.cumsum([0] + [len(cut) - 1 for cut in cuts])
    carried = np.asarray(abs(junction).sum(axis=0)).ravel() > 0.0
    halves = []
    for port, what in model.ports():
        cut = cuts[port.wire]
        k = int(np.argmin(np.abs(cut - port.at_m)))
        last = k == len(cut) - 1
        half = 2 * (first[port.wire] + k - (1 if last else 0)) + (1 if last else 0)
        if not carried[half]:
            raise InputError(
                f"{what} at the open end of {model.wires[port.wire].label}, where no "
                "current can flow; add a counterpoise or move it along the wire"
            )
        halves.append(int(half))
    return np.array(halves, dtype=np.int64)
