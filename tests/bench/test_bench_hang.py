"""How long the search for what to hang takes, beside one plain answer."""

import time

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.hanging.search import HangSearch
from advisor.antenna.shapes.search import AtHand
from advisor.engine.wires import solve_at
from advisor.station.file import resolve_station

BANDS = [f"{metres} m" for metres in (160, 80, 60, 40, 30, 20, 17, 15, 12, 10)]
SHAPES = ("dipole", "inverted V", "end-fed half-wave")
LIMIT_S, CORES = 10.0, 2


@pytest.mark.bench
@pytest.mark.slow
def test_three_shapes_on_ten_bands_for_a_day(ratio, aim):
    wires = [{"name": shape, "shape": shape} for shape in SHAPES]
    given = {"place": "KF07jo", "bands": BANDS, "setups": wires}
    station, _ = resolve_station(None, given)
    asked = question_for(station, ["014"], np.datetime64("2026-12-05"), 24)

    def plain():
        solve_at.cache_clear()
        answer(asked)

    tried = []

    def search():
        solve_at.cache_clear()
        search = HangSearch(asked, AtHand((12.0, 12.0), 25.0, 60.0), SHAPES)
        start = time.process_time()
        assert sum(search.run()) == search.steps
        tried.append(sum(one.tried for one in search.answer().found))
        # Processor time, because other work on the machine does not lengthen it much.
        aim("hang, processor s", time.process_time() - start, CORES * LIMIT_S)

    found = ratio(
        "hang",
        search,
        "search among three shapes, ten bands; to one answer for the same shapes",
        beside=plain,
        repeat=1,
    )
    aim("hang, plain answers per candidate", found / tried[0], 1.0)
