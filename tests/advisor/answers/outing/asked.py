"""What the tests of an outing ask."""

import numpy as np

from advisor.answers.ask import question_for
from advisor.station.file import resolve_station

BANDS = ["40 m", "20 m", "15 m"]


def question(targets, setups, *, hours=8, start="2026-12-05T12", place="KF07jo"):
    """Put a question with some wires."""
    station, _ = resolve_station(
        None, {"place": place, "bands": BANDS, "setups": setups}
    )
    return question_for(station, targets, np.datetime64(start), hours, r12=60.0)


def dipole(name="dipole", bearing=120.0, **more):
    """Make one wire."""
    wire = {"name": name, "shape": "dipole", "height_m": 9.0, "bearing_deg": bearing}
    return wire | more
