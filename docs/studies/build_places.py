"""
Sample points of countries and regions, for tables/target_points.ecsv.

Each country's outline is covered with an equal-area grid; the grid cells are
grouped by k-means on the unit sphere; each group is stood for by the cell nearest
its middle and weighs as much as its share of the land. A region is treated the
same way with the cells of all its countries. There is no chance in it: the same
outlines give the same file.

Run:  python docs/studies/build_places.py countries-110m.json > points.ecsv
where countries-110m.json comes from the npm package world-atlas 2.0.2.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geo.sphere import EARTH_RADIUS_KM
from geo.tables import read_table

Floats = NDArray[np.float64]

CELLS_PER_COUNTRY = 800
WIDEST_CELL_KM = 60.0
POINTS_PER_COUNTRY = 5
POINTS_PER_REGION = 12
# More points are spent only while the land lies further than this from its point
# (root mean square). Our choice: small beside the 2000 to 4000 km of a hop.
FINE_ENOUGH_KM = 250.0

# Outlines without an ISO number, by the country whose ISO 3166-2 list has them.
WITHOUT_NUMBER = {"N. Cyprus": "196", "Somaliland": "706", "Kosovo": "688"}

# Parts of one outline that ISO 3166-1 numbers apart or ISO 3166-2 lists elsewhere:
# outline, then the box (south, north, west, east) a part must lie in, then the code.
APART = [
    ("250", (0.0, 10.0, -60.0, -50.0), "254"),  # French Guiana
    ("578", (74.0, 82.0, 5.0, 35.0), "744"),  # Svalbard
    ("643", (44.0, 46.5, 32.0, 37.0), "804"),  # Crimea
]

# Too small for the 1:110 million outlines: main island or town and land area in
# km2, all from memory.
SMALL = {
    "016": (-14.30, -170.72, 199.0),
    "020": (42.55, 1.58, 468.0),
    "028": (17.08, -61.80, 443.0),
    "048": (26.05, 50.53, 780.0),
    "052": (13.17, -59.55, 430.0),
    "060": (32.30, -64.77, 54.0),
    "074": (-54.42, 3.36, 49.0),
    "086": (-7.33, 72.43, 60.0),
    "092": (18.43, -64.62, 151.0),
    "132": (15.08, -23.62, 4033.0),
    "136": (19.32, -81.24, 264.0),
    "162": (-10.47, 105.63, 135.0),
    "166": (-12.17, 96.83, 14.0),
    "174": (-11.65, 43.33, 1862.0),
    "175": (-12.82, 45.15, 374.0),
    "184": (-21.23, -159.78, 236.0),
    "212": (15.42, -61.35, 751.0),
    "234": (62.05, -6.95, 1393.0),
    "239": (-54.40, -36.70, 3903.0),
    "248": (60.20, 20.00, 1580.0),
    "258": (-17.62, -149.45, 3827.0),
    "292": (36.13, -5.35, 7.0),
    "296": (1.42, 173.00, 811.0),
    "308": (12.12, -61.67, 344.0),
    "312": (16.20, -61.55, 1628.0),
    "316": (13.45, 144.78, 544.0),
    "334": (-53.10, 73.52, 368.0),
    "336": (41.90, 12.45, 0.4),
    "344": (22.35, 114.15, 1105.0),
    "438": (47.15, 9.55, 160.0),
    "446": (22.17, 113.55, 33.0),
    "462": (4.18, 73.51, 298.0),
    "470": (35.88, 14.42, 316.0),
    "474": (14.65, -61.00, 1128.0),
    "480": (-20.28, 57.55, 2040.0),
    "492": (43.73, 7.42, 2.0),
    "500": (16.75, -62.19, 102.0),
    "520": (-0.52, 166.93, 21.0),
    "531": (12.18, -69.00, 444.0),
    "533": (12.52, -69.97, 180.0),
    "534": (18.04, -63.06, 34.0),
    "535": (12.20, -68.27, 328.0),
    "570": (-19.05, -169.87, 260.0),
    "574": (-29.03, 167.95, 36.0),
    "580": (15.19, 145.75, 464.0),
    "581": (19.28, 166.63, 34.0),
    "583": (6.88, 158.23, 702.0),
    "584": (7.10, 171.20, 181.0),
    "585": (7.50, 134.57, 459.0),
    "612": (-25.07, -130.10, 47.0),
    "638": (-21.12, 55.53, 2504.0),
    "652": (17.90, -62.83, 25.0),
    "654": (-15.96, -5.71, 394.0),
    "659": (17.33, -62.75, 261.0),
    "660": (18.22, -63.05, 91.0),
    "662": (13.90, -60.97, 606.0),
    "663": (18.08, -63.06, 53.0),
    "666": (46.95, -56.33, 242.0),
    "670": (13.25, -61.20, 389.0),
    "674": (43.94, 12.46, 61.0),
    "678": (0.23, 6.60, 960.0),
    "690": (-4.68, 55.48, 455.0),
    "702": (1.35, 103.82, 720.0),
    "772": (-9.20, -171.85, 12.0),
    "776": (-21.17, -175.20, 717.0),
    "796": (21.78, -72.27, 430.0),
    "798": (-8.52, 179.20, 26.0),
    "831": (49.46, -2.58, 65.0),
    "832": (49.21, -2.13, 118.0),
    "833": (54.23, -4.55, 572.0),
    "850": (17.73, -64.75, 346.0),
    "876": (-13.28, -176.20, 142.0),
    "882": (-13.75, -172.10, 2831.0),
}

HEADER = """\
# %ECSV 1.0
# ---
# datatype:
# - {name: code, datatype: string, description: "UN M49 region or ISO 3166-1 numeric country"}
# - {name: lat_deg, unit: deg, datatype: float64, description: "latitude, north positive"}
# - {name: lon_deg, unit: deg, datatype: float64, description: "longitude, east positive"}
# - {name: weight, datatype: float64, description: "share of the land area this point stands for; sums to 1 in each code"}
# - {name: origin, datatype: string, description: "outline or memory"}
# meta: !!omap
# - {title: "Sample points of countries and regions"}
# - {source: "outlines: Natural Earth 1:110 million, countries, by way of the npm package world-atlas 2.0.2. Rows of origin memory: a territory too small for the outlines, its main island or town and its land area, from memory"}
# - {method: "docs/studies/build_places.py: equal-area cells inside the outline, k-means on the unit sphere, nearest cell to each mean"}
# - {licence: "Natural Earth is in the public domain; world-atlas is under the ISC licence, see README.md"}
# - {spot: "COUNT rows; land of all countries LAND million km2"}
# delimiter: ','
# schema: astropy-2.0
code,lat_deg,lon_deg,weight,origin
"""  # noqa: E501


def read_outlines(path: Path) -> dict[str, list[list[Floats]]]:
    """Polygons by country code; each is a list of rings (lon, lat), outer first."""
    topology = json.loads(path.read_text(encoding="utf-8"))
    scale = np.array(topology["transform"]["scale"])
    shift = np.array(topology["transform"]["translate"])
    arcs = [
        np.cumsum(np.array(arc), axis=0) * scale + shift for arc in topology["arcs"]
    ]
    outlines: dict[str, list[list[Floats]]] = {}
    for shape in topology["objects"]["countries"]["geometries"]:
        code = shape.get("id") or WITHOUT_NUMBER[shape["properties"]["name"]]
        many = shape["type"] == "MultiPolygon"
        for polygon in shape["arcs"] if many else [shape["arcs"]]:
            rings = [_ring(arcs, indices) for indices in polygon]
            outlines.setdefault(_owner(code, rings[0]), []).append(rings)
    return outlines


def _ring(arcs: list[Floats], indices: list[int]) -> Floats:
    """Join shared arcs (a negative index is reversed) into one unbroken ring."""
    pieces = [arcs[i] if i >= 0 else arcs[~i][::-1] for i in indices]
    ring = np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])
    ring[:, 0] = np.unwrap(ring[:, 0], period=360.0)
    if abs(ring[-1, 0] - ring[0, 0]) > 180.0:  # it runs round the south pole
        ring = np.vstack([ring, [ring[-1, 0], -90.0], [ring[0, 0], -90.0], ring[:1]])
    return ring


def _owner(code: str, ring: Floats) -> str:
    """Country code of one polygon of an outline."""
    lon, lat = ring.T
    for outline, (south, north, west, east), owner in APART:
        inside = (lat > south) & (lat < north) & (lon > west) & (lon < east)
        if code == outline and inside.all():
            return owner
    return code


def inside_rings(rings: list[Floats], lat: Floats, lon: Floats) -> NDArray[np.bool_]:
    """Even-odd rule: True where a line to the north meets the rings an odd time."""
    crossings = np.zeros(lat.shape, dtype=int)
    order = np.argsort(lon, kind="stable")
    lat, lon = lat[order], lon[order]
    for ring in rings:
        spans = np.searchsorted(lon, np.sort(np.stack([ring[:-1, 0], ring[1:, 0]]), 0))
        for (lon1, lat1), (lon2, lat2), span in zip(
            ring, ring[1:], spans.T, strict=False
        ):
            # From the lesser longitude to before the greater: none on a meridian.
            some = slice(*span)
            edge = lat1 + (lon[some] - lon1) * (lat2 - lat1) / (lon2 - lon1)
            crossings[order[some]] += lat[some] < edge
    return crossings % 2 == 1


def cover(polygons: list[list[Floats]]) -> tuple[Floats, Floats, float]:
    """Equal-area cells inside the polygons: latitude, longitude, area of each."""
    spacing = WIDEST_CELL_KM
    while True:
        found = [_cells(rings, spacing) for rings in polygons]
        count = sum(len(lat) for lat, _ in found)
        if count >= CELLS_PER_COUNTRY:
            break
        spacing *= 0.95 * math.sqrt(max(count, 10) / CELLS_PER_COUNTRY)
    lat = np.concatenate([lat for lat, _ in found])
    lon = np.concatenate([lon for _, lon in found])
    return lat, lon, spacing**2


def _cells(rings: list[Floats], spacing_km: float) -> tuple[Floats, Floats]:
    """Cell middles inside one polygon: rows of equal height, equal steps in each."""
    west, south = rings[0].min(axis=0)
    east, north = rings[0].max(axis=0)
    step_deg = math.degrees(spacing_km / EARTH_RADIUS_KM)
    rows = np.arange(south + step_deg / 2.0, north, step_deg)
    lats, lons = [np.empty(0)], [np.empty(0)]
    for lat in rows:
        step = step_deg / math.cos(math.radians(lat))
        lon = np.arange(west + step / 2.0, east, step)
        lats.append(np.full(len(lon), lat))
        lons.append(lon)
    lat, lon = np.concatenate(lats), np.concatenate(lons)
    keep = inside_rings(rings, lat, lon)
    return lat[keep], lon[keep]


def unit_vectors(lat: Floats, lon: Floats) -> Floats:
    """Position on the unit sphere, shape (N, 3)."""
    phi, lam = np.radians(lat), np.radians(lon)
    return np.stack(
        [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1
    )


def cluster(where: Floats, area: Floats, most: int) -> tuple[NDArray[np.intp], Floats]:
    """
    Group cells; return the index of each group's middle cell and its area share.

    Weighted k-means. The first middles are found greedily: each is the candidate
    (every n-th cell) that shortens the squared distances most. Groups are added
    until the land is within FINE_ENOUGH_KM of its middle, or `most` are used.
    """
    candidates = where[:: max(1, len(where) // 60)]
    to_candidates = 2.0 - 2.0 * candidates @ where.T
    nearest = np.full(len(where), np.inf)
    middles = np.empty((0, 3))
    for _ in range(most):
        cost = np.minimum(to_candidates, nearest) @ area
        middles = np.vstack([middles, candidates[np.argmin(cost)]])
        middles, label = _settle(where, area, middles)
        nearest = np.sum((where - middles[label]) ** 2, axis=1)
        spread_km = EARTH_RADIUS_KM * math.sqrt(np.average(nearest, weights=area))
        if spread_km <= FINE_ENOUGH_KM:
            break
    used = np.unique(label)
    chosen = [
        np.flatnonzero(label == k)[np.argmax(where[label == k] @ middles[k])]
        for k in used
    ]
    share = np.array([area[label == k].sum() for k in used]) / area.sum()
    return np.array(chosen), share


def _settle(
    where: Floats, area: Floats, middles: Floats
) -> tuple[Floats, NDArray[np.intp]]:
    """Lloyd's rounds until no cell changes its group."""
    label = np.full(len(where), -1)
    # One axis after the other in memory, as they are summed up.
    heavy = np.ascontiguousarray(where.T) * area
    while True:
        newer = np.argmax(where @ middles.T, axis=1)
        if np.array_equal(newer, label):
            return middles, label
        label = newer
        sums = np.stack(
            [np.bincount(label, axis, len(middles)) for axis in heavy], axis=1
        )
        length = np.linalg.norm(sums, axis=1, keepdims=True)
        middles = np.where(length > 0.0, sums / np.maximum(length, 1e-300), middles)


def members(code: str) -> set[str]:
    """Country codes inside a region, through all its parts."""
    regions = read_table("m49_regions").rows()
    parts = {row["code"] for row in regions if row["parent"] == code}
    parts |= {
        part
        for row in regions
        if row["code"] == code
        for part in row["includes"].split()
    }
    found = {
        row["iso_numeric"]
        for row in read_table("countries").rows()
        if row["m49"] == code
    }
    return found.union(*(members(part) for part in parts))


def rounded_shares(share: Floats) -> Floats:
    """Shares in ten-thousandths that still sum to one exactly."""
    raw = share * 10_000.0
    whole = np.floor(raw)
    missing = round(10_000 - whole.sum())
    whole[np.argsort(whole - raw, kind="stable")[:missing]] += 1.0
    return whole / 10_000.0


def build(path: Path) -> str:
    """Text of target_points.ecsv."""
    outlines = read_outlines(path)
    cells: dict[str, tuple[Floats, Floats, Floats, str]] = {}
    for row in read_table("countries").rows():
        code = row["iso_numeric"]
        if code in outlines:
            lat, lon, area = cover(outlines[code])
            cells[code] = (lat, lon, np.full(len(lat), area), "outline")
        else:
            small_lat, small_lon, small_area = SMALL[code]
            cells[code] = (
                np.array([small_lat]),
                np.array([small_lon]),
                np.array([small_area]),
                "memory",
            )
    lines: dict[str, list[str]] = {
        code: _lines(code, [cells[code]], POINTS_PER_COUNTRY) for code in cells
    }
    for row in read_table("m49_regions").rows():
        code = row["code"]
        if code != "001":
            parts = [cells[member] for member in sorted(members(code))]
            lines[code] = _lines(code, parts, POINTS_PER_REGION)
    body = [line for code in sorted(lines) for line in lines[code]]
    land = sum(area.sum() for _, _, area, _ in cells.values()) / 1e6
    header = HEADER.replace("COUNT", str(len(body))).replace("LAND", f"{land:.1f}")
    return header + "\n".join(body) + "\n"


def _lines(code: str, parts: list[Any], most: int) -> list[str]:
    """Rows of one code, heaviest first."""
    lat, lon, area = (np.concatenate([part[i] for part in parts]) for i in range(3))
    origin = np.concatenate([np.full(len(part[0]), part[3]) for part in parts])
    chosen, share = cluster(unit_vectors(lat, lon), area, most)
    weight = rounded_shares(share)
    turned = (lon + 180.0) % 360.0 - 180.0
    return [
        f'"{code}",{lat[i]:.2f},{turned[i]:.2f},{w:.4f},{origin[i]}'
        for w, i in sorted(zip(weight, chosen, strict=True), key=lambda row: -row[0])
        if w > 0.0
    ]


def main() -> None:
    """Write the table to the standard output."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("outlines", type=Path, help="countries-110m.json (TopoJSON)")
    sys.stdout.write(build(parser.parse_args().outlines))


if __name__ == "__main__":
    main()
