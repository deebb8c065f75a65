"""How fast the live page has its first change, and the whole, once a wire is raised."""

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.live.workbench import Workbench
from advisor.station.file import demo_station, resolve_station


@pytest.mark.bench
@pytest.mark.slow
def test_a_wire_raised_on_the_live_page(ratio):
    """
    Five bands, a day, 12 points; the sky is that of the change before.

    The first change is to come within half a second, five yardsticks of 0.1 s.
    """
    station, _ = resolve_station(demo_station(), {})

    def ask(station, targets, first):
        return question_for(station, targets, first, 24, r12=60.0)

    start = np.datetime64("2026-12-05T00", "s")
    bench = Workbench(station, ask(station, station.to, start), ask, station.to)
    setups = bench.start()["setups"]
    setups[0]["bearing_deg"] = 120.0
    raised = iter(np.arange(6.0, 12.0, 0.01).round(2).tolist())

    def answer(*, coarse):
        setups[0]["height_m"] = next(raised)
        bench.answer({"setups": setups, "wire": 0, "coarse": coarse})

    answer(coarse=True)
    what = "five bands, 24 h, another height; to the yardstick"
    ratio("live, first change", lambda: answer(coarse=True), what, most=5.0)
    ratio("live, whole", lambda: answer(coarse=False), what)
