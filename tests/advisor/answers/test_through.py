"""What the sky offers, a wire gives and gets through: one sum, the same everywhere."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.pictures.compass import compass
from advisor.answers.pictures.fan import fan, scene_ways
from advisor.answers.pictures.page import sheet_data
from advisor.answers.pictures.scene import Scene, best_moment
from advisor.answers.pictures.side import side_view
from advisor.answers.rows.tonight import advice_rows
from advisor.answers.through import by_angle, through_shares, ways_at, ways_to
from advisor.answers.why import mode_facts
from advisor.answers.words import angle_range, reasons
from advisor.engine.engine import wire_gains
from advisor.show.charts import compass as compass_chart
from advisor.show.charts import fan as fan_chart
from advisor.show.charts import sideview
from advisor.show.page.chart_sections import _fan_table
from advisor.show.page.script_data import live_mapping
from advisor.station.file import demo_station, resolve_station


@pytest.fixture(scope="module")
def scene():
    """The shipped demonstration, four hours."""
    station, _ = resolve_station(demo_station(), {})
    start = np.datetime64("2026-12-05T10")
    return Scene(answer(question_for(station, station.to, start, 4, r12=60.0)))


@pytest.mark.slow
def test_the_power_that_comes_in_is_what_is_offered_times_what_is_given(scene):
    """
    Decibels add up: all ways with the wire over all ways without it.

    From the definition of gain alone: power received with the wire over that with a
    source alike in all directions, for a target of one point.
    """
    question, one = scene.advice.question, scene.advice.setups[0]
    link, patterns = scene.link, scene.patterns[one.name]
    gains = wire_gains(question, link, patterns, one.bearing.wire_deg)
    power = link.modes.mean_power * 10.0 ** (0.1 * link.far.hop_db)
    with_wire = (power * 10.0 ** (0.1 * gains.hop_db[0])).sum(axis=-1)
    single = np.zeros(question.targets[0].weight.size)
    single[3] = 1.0
    aimed = replace(question, targets=(replace(question.targets[0], weight=single),))
    ways = ways_to(aimed, link, gains)
    for t, b in ((0, 3), (1, 2), (3, 1)):
        told = ways_at(ways, t, b)
        given = sum(way.offered * 10.0 ** (0.1 * way.gain_dbi) for way in told)
        got = with_wire[3, t, b] / power[3, t, b].sum()
        assert 10.0 * np.log10(given) == pytest.approx(10.0 * np.log10(got), abs=1e-9)
        for way in told:
            through = way.offered * 10.0 ** (0.1 * way.gain_dbi) / given
            assert way.through == pytest.approx(through, abs=1e-9)
        # And a way's share is the one that a figure laid open prints for its point.
        open_laid = mode_facts(link, gains, 3, t, b)
        for way in told:
            mine = sum(facts.share for _, facts in open_laid if facts.name == way.name)
            assert mine == pytest.approx(way.through, abs=1e-9)


def test_shares_of_a_point_sum_to_one_and_a_strong_lobe_takes_them():
    assert through_shares(np.zeros(3), np.zeros(3)).tolist() == [0.0, 0.0, 0.0]
    shares = through_shares(np.array([0.5, 0.5, 0.0]), np.array([0.0, 10.0, 40.0]))
    assert shares == pytest.approx([1.0 / 11.0, 10.0 / 11.0, 0.0])


def test_every_angle_falls_into_a_step():
    """Flat and straight up too."""
    up = np.array([0.0, 2.9, 3.0, 90.0]).reshape(1, 1, 1, 4)
    shares = np.full(up.shape, 0.25)
    summed = by_angle(shares, up, np.arange(0.0, 91.0, 3.0))
    assert summed[0, 0, [0, 1, -1]].tolist() == [0.5, 0.25, 0.25]


@pytest.mark.slow
def test_one_figure_wherever_it_stands(scene):
    """Text, JSON, charts, their data and the page's numbers: read off and compared."""
    advice = scene.advice
    at = best_moment(advice)
    band = advice.question.bands[at.band].name
    utc = f"{advice.question.times[at.hour].astype('datetime64[m]')}Z"
    (row,) = (
        each
        for each in advice_rows(advice)
        if (each.setup, each.utc, each.band) == (advice.setups[0].name, utc, band)
    )
    offers = angle_range(row.takeoff_low_deg, row.takeoff_high_deg)
    gets = angle_range(row.through_low_deg, row.through_high_deg)
    gives = f"{row.gain_dbi + 0.0:.1f} dBi"
    top = ways_at(scene_ways(scene), at.hour, at.band)[0]
    share = f"{100.0 * top.through:.0f} %"
    record, side = fan(scene), side_view(scene)
    for words in (reasons(advice, 0)[0], fan_chart.alt_text(record)):
        assert f"the sky offers {offers}" in words
        assert f"gives {gives} there" in words
        assert f"{gets} gets through" in words
    assert f"{share} of the power as {top.name}" in fan_chart.alt_text(record)
    assert f"{top.name} is {share} of what gets through" in sideview.alt_text(side)
    around = compass(scene)
    assert f"gives {gives} to" in compass_chart.alt_text(around)
    assert [(ray.through, ray.gain_dbi) for ray in side.rays] == [
        (way.through, way.gain_dbi)
        for way in record.ways
        if way.name in {ray.name for ray in side.rays}
    ][:3]
    note = _fan_table(record).note
    assert note.startswith(f"{top.name} {100.0 * top.through:.1f} % of what gets")
    live = json.loads(json.dumps(live_mapping(advice, sheet_data(scene), around, None)))
    target, bearing = live["targets"][0], live["bearings"].index(live["wire"])
    parts = target["gain"][bearing][at.hour][at.band] / live["gainParts"]
    assert parts == pytest.approx(row.gain_dbi, abs=0.05 + 1e-9)
    for key, angle in (("low", row.takeoff_low_deg), ("high", row.takeoff_high_deg)):
        told = target[key][at.hour][at.band] / live["angleParts"]
        assert told == pytest.approx(angle, abs=0.005 + 1e-9)
    assert re.fullmatch(r"[A-Za-z0-9+/=]+", target["ways"]["rows"][at.hour][at.band])
