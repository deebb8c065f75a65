"""
A wire model cut into short segments, with the basis functions on them.

Frame and model are those of `advisor.antenna.wires`.
"""

from __future__ import annotations

import functools
import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from advisor.antenna.solver.segments import GROWTH, closest_approach, cut_stretch
from advisor.antenna.solver.symmetry import first_of_turns
from advisor.antenna.wires import SAME_PLACE_M, Load, Source, Wire, WireModel
from geo.arrays import Bools, Floats, Ints
from geo.errors import InputError

if TYPE_CHECKING:
    from scipy.sparse import csr_array

MOST_SEGMENTS = 1500
"""Most segments that are solved for: about 600 MB and 10 s of work."""

# A segment is cut no shorter than this many radii, coat and all; a piece that is drawn
# shorter is one segment, down to where the thin-wire kernel fails.
_LEAST_RADII = 4.0
_SHORTEST_RADII = 2.0
# Currents run along a wire only while it is thinner than this part of a wavelength.
_THICKEST = 1.0 / 120.0
# Wires that are joined get at least this many segments, however low the frequency.
_LEAST_SEGMENTS = 16
# Segments at an open end, over those elsewhere.
_AT_AN_END = 0.1
# Nodes of one wire are nodes of another that is nearer than this share of its length.
_ABREAST = 0.05
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
    row : numpy.ndarray
        Shape (S,), which of M rows of the matrix each segment is in: its own, or that
        of the segment it is a turn of, whose current it has.
    junction : scipy.sparse.csr_array
        Shape (B, 2 M). Half function 2m falls from 1 at the start of the segments of
        row m to 0 at their ends, 2m + 1 rises; a basis function is a signed sum of
        halves, so that current is conserved where wires meet.
    port : numpy.ndarray
        Shape (B, P), share of the voltage of each source, then of each load, that each
        basis function meets; the current through it is the mean by those shares.
    """

    start_m: Floats
    end_m: Floats
    wire: Ints
    radius_m: Floats
    row: Ints
    junction: csr_array
    port: Floats

    @functools.cached_property
    def kept(self) -> Ints:
        """First segment of each row, shape (M,)."""
        kept: Ints = np.unique(self.row, return_index=True)[1]
        return kept

    @functools.cached_property
    def count(self) -> Ints:
        """Number of segments in each row, shape (M,)."""
        return np.bincount(self.row)

    @property
    def is_turned(self) -> bool:
        """Whether some segments are turns of others."""
        return len(self.kept) < len(self.row)

    @functools.cached_property
    def pairs(self) -> tuple[Ints, Ints]:
        """First of each row with all segments of this row and of later ones."""
        before, segment = np.nonzero(np.arange(len(self.kept))[:, None] <= self.row)
        return self.kept[before], segment

    @functools.cached_property
    def length_m(self) -> Floats:
        """Lengths of the segments, shape (S,), metres."""
        span = self.end_m - self.start_m
        length: Floats = np.sqrt(np.sum(span**2, axis=1))
        return length

    @functools.cached_property
    def is_below(self) -> Bools:
        """Whether each segment is in the ground, shape (S,)."""
        below: Bools = self.start_m[:, 2] + self.end_m[:, 2] < 0.0
        return below

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
    index_below: float = 1.0,
    segments_per_wavelength: float = 16.0,
) -> Mesh:
    """
    Cut a model into segments and find its junctions.

    Segments are as long as gaps are wide at feeds and loads, short at open ends, and
    grow away from both; pieces of joined wire count together. Wires side by side are
    cut abreast. Wires that are turns of one another about the feeds' axis are one.

    Parameters
    ----------
    model : WireModel
        What is hung.
    wavelength_m : float
        Wavelength in free space. [m]
    over_ground : bool, optional
        Whether z = 0 is the surface of a ground.
    touches_ground : bool, optional
        Whether a wire that ends on it is joined to its image (a perfect ground).
    index_below : float, optional
        How much shorter waves are in the ground. [1]
    segments_per_wavelength : float, optional
        Away from feeds and ends.

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
    stops, nodes, first_turn = _layout(model)
    earthed = touches_ground & (np.abs(nodes.place[:, 2]) < SAME_PLACE_M)
    longest_m = [
        wavelength_m
        / (segments_per_wavelength * (index_below if _is_below(wire) else 1.0))
        for wire in model.wires
    ]
    cuts = _cuts(model, stops, nodes, earthed, wavelength_m, longest_m, first_turn)

    starts, ends, owner = [], [], []
    for index, wire in enumerate(model.wires):
        points = np.asarray(wire.start_m) + cuts[index][:, None] * wire.direction
        starts.append(points[:-1])
        ends.append(points[1:])
        owner.append(np.full(len(points) - 1, index))
    wire_of = np.concatenate(owner)
    radius = np.array([wire.radius_m for wire in model.wires])[wire_of]
    start, end = np.concatenate(starts), np.concatenate(ends)
    if over_ground:
        start[np.abs(start[:, 2]) < SAME_PLACE_M, 2] = 0.0
        end[np.abs(end[:, 2]) < SAME_PLACE_M, 2] = 0.0
    meeting = _meeting(model, cuts, stops, nodes)
    row = _rows(wire_of, first_turn)
    junction = _junctions(meeting, earthed, row)
    ports = _ports(model, cuts, meeting, junction, row)
    return Mesh(start, end, wire_of, radius, row, junction, ports)


@functools.lru_cache(maxsize=32)
def _layout(model: WireModel) -> tuple[list[Floats], _Nodes, Ints]:
    """Find what does not depend on frequency, once per model: stops, nodes, turns."""
    first_turn = first_of_turns(model)
    _check_spacing(model, first_turn)
    stops = _stops(model)
    return stops, _Nodes(model, stops), first_turn


def _rows(wire_of: Ints, first_turn: Ints) -> Ints:
    """Row of the matrix that each segment is in."""
    begins = np.searchsorted(wire_of, np.arange(len(first_turn)))
    place = np.arange(len(wire_of)) - begins[wire_of]
    row: Ints = np.unique(begins[first_turn[wire_of]] + place, return_inverse=True)[1]
    return row


def _is_below(wire: Wire) -> bool:
    return wire.start_m[2] + wire.end_m[2] < 0.0


def _check_heights(model: WireModel, is_perfect: bool) -> None:
    """Wires keep off the surface but for ends that go on beyond it."""
    for wire in model.wires:
        heights = np.array([wire.start_m[2], wire.end_m[2]])
        on_it = np.abs(heights) < SAME_PLACE_M
        low, high = float(heights.min()), float(heights.max())
        least = max(2.0 * wire.thickness_m, 0.01)
        if on_it.all():
            raise InputError(f"{wire.label} lies on the ground; raise or bury it")
        if is_perfect and low < -SAME_PLACE_M:
            raise InputError(
                f"{wire.label} goes {-low:.4g} m below a perfect ground; heights start "
                "at 0"
            )
        if low < -SAME_PLACE_M and high > SAME_PLACE_M:
            raise InputError(
                f"{wire.label} goes through the surface; let two wires meet there"
            )
        nearest = float(np.abs(heights[~on_it]).min())
        if nearest < least and not (is_perfect and on_it.any()):
            raise InputError(
                f"{wire.label} comes to {nearest:.4g} m from the surface; keep it "
                f"{least:.4g} m above or under it, or let it end there on a stake"
            )
        if is_perfect or not on_it.any():
            continue
        foot = (wire.start_m, wire.end_m)[int(on_it.argmax())]
        beyond = any(
            np.linalg.norm(np.subtract(foot, end)) < SAME_PLACE_M
            and _is_below(other) != _is_below(wire)
            for other in model.wires
            for end in (other.start_m, other.end_m)
        )
        if not beyond:
            raise InputError(
                f"{wire.label} ends on the ground and nothing goes on beyond it; add a "
                "stake or a wire, or end it 0.01 m off"
            )


def _stops(model: WireModel) -> list[Floats]:
    """Distances along each wire that must be nodes: ends, ports, branches, feet."""
    stops = []
    owners = [*range(len(model.wires))] * 2 + [port.wire for port, _ in model.ports()]
    others = np.array([model.wires[index].length_m for index in owners])
    places = np.array(
        [wire.start_m for wire in model.wires]
        + [wire.end_m for wire in model.wires]
        + [tuple(model.wires[p.wire].point(p.at_m)) for p, _ in model.ports()]
    )
    for wire in model.wires:
        length = wire.length_m
        offset = places - np.asarray(wire.start_m)
        along = offset @ wire.direction
        away = np.linalg.norm(offset - along[:, None] * wire.direction, axis=1)
        # Wires side by side carry opposite charges, that cancel only between segments
        # which are abreast: what must be a node on one is a node on both.
        abreast = away < np.maximum(_ABREAST * np.minimum(length, others), SAME_PLACE_M)
        wanted = along[abreast & (along > 0.0) & (along < length)]
        kept = [0.0]
        for place in np.sort(wanted):
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

    def at(self, stops: list[Floats], port: Source | Load) -> int:
        """Index of the place a port is at."""
        nearest = int(np.argmin(np.abs(stops[port.wire] - port.at_m)))
        return self.of[port.wire][nearest]

    def connected_m(self, stretches: Sequence[tuple[int, int, float]]) -> Floats:
        """Length of all the wire that is joined to each place."""
        group = np.arange(self._count)
        for a, b, _ in stretches:
            group[group == group[b]] = group[a]
        total = np.zeros(self._count)
        for a, _, span in stretches:
            total[group[a]] += span
        return np.asarray(total[group])


def _near_pairs(model: WireModel, first_turn: Ints) -> Iterator[tuple[Wire, Wire]]:
    """Pairs of wires whose boxes touch, in their order: no others can touch."""
    ends = np.array([(wire.start_m, wire.end_m) for wire in model.wires])
    thick = np.array([[wire.thickness_m] for wire in model.wires])
    low, high = ends.min(axis=1) - thick, ends.max(axis=1) + thick
    for index in np.unique(first_turn).tolist():
        wire = model.wires[index]
        apart = (low[index + 1 :] > high[index]) | (high[index + 1 :] < low[index])
        for other in np.flatnonzero(~apart.any(axis=1)):
            yield wire, model.wires[index + 1 + int(other)]


def _check_spacing(model: WireModel, first_turn: Ints) -> None:
    """Two wires may meet at an end of one of them, at an angle; nowhere else."""
    for a, b in _near_pairs(model, first_turn):
        at_a, at_b, gap = closest_approach(a.start_m, a.end_m, b.start_m, b.end_m)
        if gap >= a.thickness_m + b.thickness_m:
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
    earthed: Bools,
    wavelength_m: float,
    longest_m: list[float],
    first_turn: Ints,
) -> list[Floats]:
    """Distances of all segment ends along each wire."""
    stretches = [
        (a, b, float(span))
        for ids, stop in zip(nodes.of, stops, strict=True)
        for a, b, span in zip(ids[:-1], ids[1:], np.diff(stop), strict=True)
    ]
    joined = nodes.connected_m(stretches) / _LEAST_SEGMENTS
    most = joined.copy()
    thick = np.zeros_like(most)
    for wire, ids, longest in zip(model.wires, nodes.of, longest_m, strict=True):
        thick[ids] = np.maximum(thick[ids], wire.thickness_m)
        most[ids] = np.minimum(most[ids], longest)
    # Charge crowds at open ends, as 1/sqrt of the distance.
    met = np.bincount([n for a, b, _ in stretches for n in (a, b)])
    size = np.where((met == 1) & ~earthed, _AT_AN_END * most, most)
    size = np.minimum(np.maximum(size, _LEAST_RADII * thick), most)
    gap: dict[tuple[int, int], float] = {}
    crowd = np.maximum(met - 1, 1)
    for port, _ in model.ports():
        node = nodes.at(stops, port)
        # A gap lies on both sides of its node, or is one segment of the wire named.
        is_hub = met[node] > 2
        target = max(port.gap_m * (1.0 if is_hub else 0.5), _LEAST_RADII * thick[node])
        shortest = min(span for a, b, span in stretches if node in (a, b))
        size[node] = shortest / np.ceil(shortest / target)
        for index, ids in enumerate(nodes.of):
            if node in ids and (not is_hub or index == port.wire):
                gap[index, node] = float(size[node])
    # Sizes grow with distance, also from wire to wire: neighbours are cut alike.
    apart = np.linalg.norm(nodes.place[:, None] - nodes.place, axis=2)
    size = np.min(size + GROWTH * apart, axis=1)

    for wire in model.wires:
        if wire.thickness_m > _THICKEST * wavelength_m:
            raise InputError(
                f"{wire.label}: radius {wire.thickness_m:.4g} m is not small against a "
                f"wavelength of {wavelength_m:.4g} m; use a thinner wire"
            )
    # A matrix of n by n complex numbers is filled: refuse what no machine holds.
    least = sum(
        float(span) / most[a]
        for index in np.unique(first_turn).tolist()
        for a, span in zip(nodes.of[index][:-1], np.diff(stops[index]), strict=True)
    )
    if least > MOST_SEGMENTS:
        raise InputError(
            f"{least:.0f} segments are needed and at most {MOST_SEGMENTS} are solved: "
            "use fewer or shorter wires or radials, or a lower frequency"
        )
    cuts = []
    for index, (wire, ids) in enumerate(zip(model.wires, nodes.of, strict=True)):
        pieces = [np.zeros(1)]
        for a, b, (low, high) in zip(
            ids[:-1], ids[1:], itertools.pairwise(stops[index]), strict=True
        ):
            # Of wires that share the current of one, each may be cut more coarsely.
            near, far = (
                gap.get((index, n), float(min(crowd[n] * size[n], most[n])))
                for n in (a, b)
            )
            inner = cut_stretch(
                high - low,
                (near, far),
                ((index, a) in gap, (index, b) in gap),
                most_m=min(float(joined[a]), longest_m[index]),
                least_m=_LEAST_RADII * wire.thickness_m,
            )
            pieces.append(low + inner[1:])
        whole = np.concatenate(pieces)
        shortest_m = float(np.diff(whole).min())
        if shortest_m < _SHORTEST_RADII * wire.thickness_m:
            raise InputError(
                f"{wire.label}: radius {wire.thickness_m:.4g} m is not small against a "
                f"segment of {shortest_m:.4g} m; use a thinner or longer wire"
            )
        cuts.append(whole)
    return cuts


Halves = list[tuple[int, float]]
"""Half functions that peak at one place, +1 where their segment leaves it."""


def _meeting(
    model: WireModel, cuts: list[Floats], stops: list[Floats], nodes: _Nodes
) -> dict[tuple[int, int], Halves]:
    """Halves by the place they peak at: (0, node), or (wire + 1, cut) between nodes."""
    meeting: dict[tuple[int, int], Halves] = {}
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
    return meeting


def _junctions(
    meeting: dict[tuple[int, int], Halves], earthed: Bools, row: Ints
) -> csr_array:
    """Signed half functions that make up each basis function."""
    from scipy.sparse import csr_array

    rows, columns, signs = [], [], []
    count = 0
    done: set[tuple[int, ...]] = set()
    for (kind, node), met in meeting.items():
        # Turns share their current: each brings its part of what meets in a place.
        turns = Counter(2 * int(row[half // 2]) + half % 2 for half, _ in met)
        if tuple(turns) in done:
            continue
        done.add(tuple(turns))
        sign_of = {2 * int(row[half // 2]) + half % 2: sign for half, sign in met}
        halves = [(half, sign_of[half] / n) for half, n in turns.items()]
        if kind == 0 and earthed[node]:
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
    width = 2 * (int(row.max()) + 1)
    return csr_array((signs, (rows, columns)), shape=(count, width))


def _ports(
    model: WireModel,
    cuts: list[Floats],
    meeting: dict[tuple[int, int], Halves],
    junction: csr_array,
    row: Ints,
) -> Floats:
    """
    Share of each port's voltage that each basis function meets.

    It is spread over the segments on both sides, or over the one of the wire named
    where three or more meet, or where it ends on its image.
    """
    first = np.cumsum([0] + [len(cut) - 1 for cut in cuts])
    carried = np.asarray(abs(junction).sum(axis=0)).ravel() > 0.0
    at_place = {half: halves for halves in meeting.values() for half, _ in halves}
    ports = list(model.ports())
    shares = np.zeros((2 * len(row), len(ports)))
    for column, (port, what) in enumerate(ports):
        cut = cuts[port.wire]
        k = int(np.argmin(np.abs(cut - port.at_m)))
        is_end = k == len(cut) - 1
        own = 2 * int(first[port.wire] + k - is_end) + is_end
        if not carried[2 * row[own // 2] + own % 2]:
            raise InputError(
                f"{what} at the open end of {model.wires[port.wire].label}, where no "
                "current can flow; add a counterpoise or move it along the wire"
            )
        met = dict(at_place[own])
        length = {own: abs(float(np.diff(cut)[k - is_end]))}
        if len(met) == 2:
            (other,) = met.keys() - {own}
            wire = int(np.searchsorted(first, other // 2, side="right")) - 1
            length[other] = float(np.diff(cuts[wire])[other // 2 - first[wire]])
        for half, along in length.items():
            # Both halves of a segment carry equal parts of its voltage; two segments
            # that leave one place run in opposite ways.
            sign = 1.0 if half == own else -met[own] * met[half]
            part = 0.5 * sign * along / sum(length.values())
            shares[[half, half ^ 1], column] += part
    of_rows = np.zeros((junction.shape[1], len(ports)))
    np.add.at(
        of_rows.reshape(-1, 2, len(ports)), row, shares.reshape(-1, 2, len(ports))
    )
    return np.asarray(junction @ of_rows)
