"""The fields of one wire and its sketch, as the live page sets them."""

from __future__ import annotations

from typing import Any

from advisor.antenna.feed import transformer_names
from advisor.antenna.ground import ground_names
from advisor.antenna.line import line_names
from advisor.antenna.materials import metals, plastics
from advisor.antenna.shapes.parts import BELOW, HungWire
from advisor.antenna.shapes.registry import SHAPES
from advisor.propagation.noise import environments
from advisor.station.emissions import EMISSION_NAMES
from advisor.station.setup import EACH_BAND, ONE_LENGTH, SetUp, default_sizes
from advisor.station.station import FAR_END_ANTENNAS, FAR_END_KINDS

_REACH = 3.0
"""A slider goes to so many times what is set, as far as is allowed."""

_LEAST_M = 15.0
"""But at least so far. [m]"""


def choices() -> dict[str, Any]:
    """
    List what can be chosen by name.

    Returns
    -------
    choices : dict
        Names by key of a station or a set-up; ``kind``, what each kind of station at
        the far end has.
    """
    return {
        "shape": sorted(SHAPES),
        "points": [name for name, spec in SHAPES.items() if spec.takes_points],
        "kind": FAR_END_KINDS,
        "antenna": [name for name in FAR_END_ANTENNAS if name not in FAR_END_KINDS],
        "emission": list(EMISSION_NAMES),
        "noise": list(environments()),
        "ground": list(ground_names()),
        "transformer": [*transformer_names(), "none"],
        "line": [*line_names(), "none"],
        "cut": [EACH_BAND, ONE_LENGTH],
        "metal": list(metals()),
        "plastic": list(plastics()),
    }


def wire_form(setup: SetUp) -> dict[str, Any]:
    """
    List the sizes of a wire with their limits.

    Parameters
    ----------
    setup : SetUp
        The wire.

    Returns
    -------
    form : dict
        ``fields``, each with key, words, unit, value (None by default), what the
        default is, and the ends of its slider; ``top`` and ``length``, the keys that
        dragging changes, empty where there is none; ``has_bearing``; ``has_points``.
    """
    spec, given = SHAPES[setup.shape], dict(setup.dimensions)
    default = default_sizes(setup)
    fields = []
    for key, size in spec.dimensions.items():
        usual = default.get(key, (given.get(key, size.low),) * 2)
        most = max(_REACH * given.get(key, usual[1]), _LEAST_M)
        fields.append(
            {
                "key": key,
                "words": size.help,
                "unit": "" if size.unit == "1" else size.unit,
                "value": given.get(key),
                "usual": [round(each, 2) for each in usual],
                "low": size.low,
                "high": size.high,
                "most": min(size.high, most) if size.unit == "m" else size.high,
            }
        )
    return {
        "shape": setup.shape,
        "help": spec.help,
        "fields": fields,
        "top": spec.top if spec.top in spec.dimensions else "",
        "length": "length_m" if "length_m" in spec.dimensions else "",
        "has_bearing": spec.has_bearing,
        "has_points": spec.takes_points,
        "usual": {"transformer": spec.transformer, "line": spec.line},
    }


def sketch_of(hung: HungWire) -> dict[str, Any]:
    """
    Draw a wire hung towards north, in metres.

    Parameters
    ----------
    hung : HungWire
        The wire.

    Returns
    -------
    sketch : dict
        ``wires`` and ``below``, each piece as its two ends (east, north, up);
        ``feed``; ``supports`` as east, north and height; ``length``; ``parts``, the
        coils, traps and resistors, each as where it is.
    """
    pieces: dict[str, list[list[float]]] = {"wires": [], "below": []}
    for wire in hung.wires:
        kind = "below" if wire.name.startswith(BELOW) else "wires"
        ends = (*wire.start_m, *wire.end_m)
        pieces[kind].append([round(float(each), 3) for each in ends])
    loads = [hung.wires[each.wire].point(each.at_m) for each in hung.loads]
    return {
        **pieces,
        "parts": [[round(float(each), 3) for each in at] for at in loads],
        "feed": [round(each, 3) for each in hung.feed_point_m],
        "supports": [
            [round(float(v), 3) for v in (each.east_m, each.north_m, each.height_m)]
            for each in hung.supports
        ],
        "length": round(hung.length_m, 2),
    }
