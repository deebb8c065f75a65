"""Which way a wire runs, when the sun is up, what things are called: one way each."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.answers.aim import aim
from advisor.answers.ask import answer, question_for
from advisor.answers.compare import compare
from advisor.answers.far_places.reach import reach
from advisor.answers.first_end import end_of_shape
from advisor.answers.hanging.search import HangSearch
from advisor.answers.hours import span_names
from advisor.answers.limits import LIMITS
from advisor.answers.one_wire.wire import wire_work
from advisor.answers.outing.plan import Costs, plan_activation
from advisor.answers.pictures.build import build
from advisor.answers.pictures.compass import compass as compass_of
from advisor.answers.pictures.daylight import daylight_at_both_ends
from advisor.answers.pictures.scene import Scene
from advisor.answers.runs import compass_point, run_figures, run_title, run_words
from advisor.answers.words import bearing_words, place_words
from advisor.antenna.exposure import ExposureDistance
from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.shapes.search import AtHand
from advisor.engine.wires import hung_wire
from advisor.show.charts import compass
from advisor.show.charts.bandhour import figure as bands_figure
from advisor.show.charts.wire import build_words
from advisor.show.charts.wire import figure as pattern_figure
from advisor.show.text import plan_words
from advisor.show.text.aim import aim_text
from advisor.show.text.compare import compare_text
from advisor.show.text.exposure import exposure_cell, least_words, method_words
from advisor.show.text.hang import hang_text
from advisor.show.text.reach import reach_text
from advisor.show.text.tonight import advice_text, heading
from advisor.show.text.wire import wire_text
from advisor.station.file import resolve_station
from advisor.station.setup import build_set_up
from geo.places import parse_place
from geo.sun import rise_and_set

ROOT = Path(__file__).parents[3]
SLOPER = {"name": "slope", "shape": "sloper", "high_m": 10.0}
END_FED = {"name": "end-fed", "shape": "end-fed half-wave"}
MADE = ("sloper", "end-fed half-wave", "random wire", "inverted L", "half-square",
        "bottom-fed half-square")  # fmt: skip


def asked(setups, *, to=("155",), start="2026-12-19T10", hours=2, **more):
    """A question from the Hebrides on 40 m at R12 60."""
    filed = {"place": "56.45,-5.95", "setups": setups, **more}
    station, _ = resolve_station(None, filed)
    first = np.datetime64(start)
    return question_for(station, list(to), first, hours, band_names=["40 m"], r12=60.0)


def set_up(shape, **more):
    bands = ("40 m",)
    return build_set_up(
        {"name": shape, "shape": shape, "bands": list(bands), **more}, bands
    )


@pytest.mark.parametrize("shape", MADE)
def test_the_bearing_points_from_the_end_that_is_named(shape):
    """Made towards north: the feed, or the high end, is the southernmost part."""
    setup = set_up(shape)
    hung = hung_wire(setup, 7.1)
    wires = [w for w in hung.wires if not w.name.startswith(("radial", "counterpoise"))]
    norths = [end[1] for w in wires for end in (w.start_m, w.end_m)]
    if end_of_shape(setup) == "high end":
        named = max((end for w in wires for end in (w.start_m, w.end_m)),
                    key=lambda end: end[2])  # fmt: skip
    else:
        assert end_of_shape(setup) == "fed end"
        named = hung.feed_point_m
    assert named[1] == pytest.approx(min(norths), abs=1e-6)
    assert max(norths) > min(norths) + 1.0


def test_ends_follow_the_dimensions():
    """A feed nearer the second end, a wire that slopes up, and none of it."""
    assert end_of_shape(set_up("sloper", high_m=10.0, low_m=10.0)) == ""
    assert end_of_shape(set_up("dipole")) == ""
    assert end_of_shape(set_up("dipole", feed_share=0.3)) == "end nearer the feed"
    assert end_of_shape(set_up("dipole", feed_share=0.7)) == "end away from the feed"
    for shape in set(SHAPES) - {"free wire"}:
        assert isinstance(end_of_shape(set_up(shape)), str)


def test_a_wire_with_a_front_says_where_it_starts():
    for bearing in range(0, 360, 15):
        words = run_words(float(bearing), 10.0, "fed end")
        behind = compass_point((bearing + 180.0) % 360.0)
        assert words.startswith(f"from {behind} (fed end) towards ")
        assert f"towards {compass_point(bearing)}: {bearing:03d} true (" in words
        assert f"({(bearing - 10) % 360:03d} by compass)" in words
    assert run_words(120.0, 0.0).startswith("120-300 true (120-300 by compass), east")
    assert run_figures(359.7) == "000-180"
    assert run_title(120.0) == "120-300 true"


@pytest.fixture(scope="module", params=[SLOPER, END_FED], ids=["sloper", "end-fed"])
def hung(request):
    """A question of a wire with a front, and how it is to be said."""
    question = asked([request.param])
    advice = answer(question)
    one = advice.setups[0]
    deg = one.bearing.wire_deg
    end = "high end" if request.param is SLOPER else "fed end"
    behind, ahead = compass_point((deg + 180.0) % 360.0), compass_point(deg)
    return question, advice, f"from {behind} ({end}) towards {ahead}: {deg:03.0f} true"


@pytest.mark.slow
def test_every_text_says_it_alike(hung):
    question, advice, said = hung
    plan = plan_activation(question, np.ones(1), Costs())
    texts = {
        "tonight": advice_text(advice, 0.0),
        "bearing": bearing_words(advice.setups[0], 0.0),
        "aim": aim_text(aim(answer(question))),
        "compare": compare_text(compare(answer(question))),
        "activation": plan_words.wire_words(plan, plan.used[0], 0.0),
        "reach": reach_text(reach(question, towards=True)),
    }
    for name, text in texts.items():
        assert said in " ".join(text.split()), name
        deg = round(advice.setups[0].bearing.wire_deg)
        assert f"{deg:03d}-{(deg + 180) % 360:03d}" not in text, name


@pytest.mark.slow
def test_every_chart_says_it_alike_and_marks_the_end(hung):
    _, advice, said = hung
    scene = Scene(advice)
    record = compass_of(scene)
    assert said in compass.alt_text(record)
    assert said in build_words(build(scene))
    figure = compass.figure(record)
    texts = [each.get_text() for axes in figure.axes for each in axes.texts]
    assert record.first_end in texts
    square = next(
        line for axes in figure.axes for line in axes.lines if line.get_marker() == "s"
    )
    x, y = (float(values[0]) for values in square.get_data())
    behind = np.degrees(np.arctan2(x, y))
    assert (behind - record.wire_deg) % 360.0 == pytest.approx(180.0, abs=0.01)
    either = compass.figure(replace(record, first_end=""))
    marks = {line.get_marker() for axes in either.axes for line in axes.lines}
    assert "s" not in marks


@pytest.mark.slow
def test_the_sun_is_up_from_sunrise_on():
    """Five minutes after sunrise its centre is below the horizon still."""
    question = asked([SLOPER], start="2026-12-19T09", hours=2)
    rise, _ = rise_and_set(56.45, -5.95, np.datetime64("2026-12-19T00"))
    assert np.datetime64("2026-12-19T08:50") < rise < np.datetime64("2026-12-19T09:00")
    advice = answer(question)
    ends = daylight_at_both_ends(advice)
    assert ends[0].elevation_deg[0] < 0.0
    assert ends[0].rises == ends[0].sets == ()
    assert ends[0].stays == "up"
    written = " ".join(
        each.get_text() for each in bands_figure(advice, ends).findobj(match=_is_text)
    )
    assert "the sun stays up in these hours" in " ".join(written.split())
    night = answer(replace(question, times=question.times + np.timedelta64(12, "h")))
    assert daylight_at_both_ends(night)[0].stays == "down"


def _is_text(artist):
    return hasattr(artist, "get_text")


def test_every_limit_stands_in_the_guide():
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+) \|", guide, flags=re.MULTILINE)
    for name in LIMITS:
        assert any(row.startswith(name) for row in rows), name


def test_hours_are_told_to_their_end():
    question = asked([SLOPER], hours=24)
    assert span_names(question, [(0, 0), (1, 4), (13, 14)]) == [
        "10-11Z", "11-15Z", "23-01Z",
    ]  # fmt: skip
    longer = asked([SLOPER], hours=48)
    names = span_names(longer, [(0, 5), (13, 14), (20, 44)])
    assert names == ["19 Dec 10-16Z", "23-01Z", "20 Dec 06Z to 21 Dec 07Z"]


def test_a_station_is_called_by_its_name_and_no_coordinate_comes_twice():
    named = asked([SLOPER], name="hut by the sound")
    assert heading(named).startswith("From hut by the sound (56.45, -5.95")
    assert named.here == "hut by the sound"
    plain = asked([SLOPER])
    assert heading(plain).startswith("From 56.45, -5.95")
    assert plain.here == "56.45, -5.95"
    for question in (named, plain):
        assert heading(question).count("56.45") == 1
    assert place_words(parse_place("IO66")).startswith("IO66 (56.50, -7.00")


def test_the_name_of_one_place_is_not_that_of_another(tmp_path):
    file = tmp_path / "station.toml"
    file.write_text(
        'name = "hut"\nplace = "56.45,-5.95"\n[[setups]]\nshape = "dipole"\n',
        encoding="utf-8",
    )
    assert resolve_station(file, {})[0].own_name == "hut"
    assert resolve_station(file, {"power_w": 5.0})[0].own_name == "hut"
    assert resolve_station(file, {"place": "QE37"})[0].own_name == ""


def test_exposure_is_rounded_upwards_and_names_its_method():
    near = ExposureDistance(0.31, "whole body", 0.0, solved=True)
    far = replace(near, distance_m=1.72, solved=False)
    assert exposure_cell(near).short == "0.4"
    assert exposure_cell(far).short == "1.8 f"
    assert "near field" in method_words([near])
    assert "formula" not in method_words([near])
    assert "marked f" in method_words([far])
    assert "near field" not in method_words([far])
    assert {"near field", "marked f"} <= {
        words
        for words in ("near field", "marked f")
        if words in method_words([near, far])
    }
    assert "0.4 m" in least_words([0.31])
    assert least_words([3.2]) == ""


@pytest.mark.slow
def test_no_text_has_two_blank_lines():
    cut_off = {"name": "other", "shape": "dipole", "bands": ["20 m"]}
    question = asked([cut_off, SLOPER, {"shape": "quarter-wave vertical"}])
    alone = asked([{"shape": "quarter-wave vertical"}])
    for text in (
        compare_text(compare(answer(question))),
        compare_text(compare(answer(alone))),
        reach_text(reach(question)),
        reach_text(reach(alone)),
    ):
        assert "\n\n\n" not in text


@pytest.mark.slow
def test_the_wire_command_says_it_alike():
    for filed, end in ((SLOPER, "high end"), (END_FED, "fed end")):
        station = asked([{**filed, "bearing_deg": 55.0}]).station
        work = wire_work(station, station.setups[0], ["40 m"], quick=True)
        text = " ".join(wire_text(work).split())
        assert f"from south-west ({end}) towards north-east: 055 true" in text
        figure = pattern_figure(work)
        marks = {line.get_marker() for axes in figure.axes for line in axes.lines}
        assert "s" in marks
        free = replace(work, setup=replace(work.setup, bearing_deg=None))
        assert f"the way the wire runs from its {end}" in " ".join(
            wire_text(free).split()
        )


@pytest.mark.slow
def test_a_hang_for_two_targets_names_each():
    question = asked([SLOPER], to=("155", "US"), start="2026-12-19T22", power_w=1000.0)
    search = HangSearch(question, AtHand((10.0,)), ("sloper",))
    assert sum(search.run()) == search.steps
    text = " ".join(hang_text(search.answer(), 0.0).split())
    best = re.findall(r"To ([^:]+): Best:", text)
    assert [name.partition(" (")[0] for name in best] == [
        "Western Europe",
        "United States",
    ]
    assert "(high end) towards" in text
    assert "Supports: high end 10.0 m" in text
