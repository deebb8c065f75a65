"""Random questions put to the library: an answer that holds water, or one line."""

import json
import math

import numpy as np
import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from advisor.answers.ask import answer, question_for
from advisor.answers.rows.inputs import question_inputs
from advisor.answers.rows.tonight import advice_details, advice_rows
from advisor.commands.common import conditions_for, start_time
from advisor.engine.wires import hung_wire, solve_setup
from advisor.show.formats.exports import to_json
from advisor.show.text.tonight import advice_text
from advisor.station.bands import band_by_name, bands_for_region
from advisor.station.file import resolve_station
from advisor.station.setup import build_set_up
from geo.errors import InputError
from tests.fuzz import makers

pytestmark = [pytest.mark.fuzz, pytest.mark.slow]

CHANCES = ("chance", "chance_low", "chance_high", "chance_heard", "chance_hear")
PROVENANCE = {"program": "skiplobe", "version": "0", "tables_sha256": {}}


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    """The few wires asked for are solved once."""
    return tmp_path_factory.mktemp("solved")


@st.composite
def asked(draw):
    """A question as words; one in four is spoilt somewhere."""
    station = draw(makers.stations())
    sky = draw(makers.skies())
    words = {
        "targets": draw(
            st.lists(makers.targets(station["place"]), min_size=1, max_size=2)
        ),
        "start": draw(makers.MOMENTS),
        "hours": draw(st.sampled_from([1, 1, 1, 2, 4])),
        "band_names": draw(
            st.lists(st.sampled_from(makers.BANDS), min_size=1, max_size=2)
        ),
        "long_path": draw(st.booleans()),
        "weights": draw(st.sampled_from(["usual", "area", "operators"])),
        "flux": None,
    }
    if "bands" in station:
        words["band_names"] = draw(st.sampled_from([[], station["bands"][:1]]))
    if sky["r12"] is None and draw(st.booleans()):
        words["flux"] = draw(st.floats(60, 300))
    if draw(st.integers(0, 3)) == 0:
        whole = draw(st.sampled_from([station, sky, words]))
        key = draw(st.sampled_from(sorted(whole)))
        bad = makers.ODD_MOMENTS if key == "start" else makers.SCRAPS
        if key in ("r12", "flux", "kp", "proton_flux"):
            bad = makers.NUMBERS
        elif whole is station:
            bad = st.one_of(makers.NUMBERS, makers.SCRAPS, st.just([]), st.just({}))
        elif key in ("targets", "band_names", "soundings"):
            bad = st.lists(makers.SCRAPS, max_size=2)
        elif key == "hours":
            bad = st.integers(-5, 10**12)
        elif key == "long_path":
            bad = st.booleans()
        whole[key] = draw(bad)
    return station, sky, words


def put(station, sky, words, cache):
    """Ask it, as the commands do."""
    found, _ = resolve_station(None, station)
    first = start_time(words["start"])
    question = question_for(
        found,
        words["targets"],
        first,
        words["hours"],
        band_names=[
            band_by_name(name, found.iaru_region).name for name in words["band_names"]
        ],
        r12=sky["r12"],
        flux=words["flux"],
        long_path=words["long_path"],
        conditions=conditions_for(sky, first),
        weights=words["weights"],
    )
    return answer(question, cache)


def assert_one_line(error):
    """What the user got wrong is said in one line that is no novel."""
    text = str(error)
    assert text.strip()
    assert len(text) < 1500


def as_json(advice):
    """The answer as its command writes it."""
    inputs, rows = question_inputs(advice.question), advice_rows(advice)
    return to_json(inputs, rows, PROVENANCE, advice_details(advice))


def assert_holds_water(advice):
    """Chances are chances, nothing is infinite, what is missing has its reason."""
    rows = [vars(row) for row in advice_rows(advice)]
    assert rows
    for row in rows:
        for name in CHANCES:
            assert 0.0 <= row[name] <= 1.0, (name, row)
        assert row["chance_low"] <= row["chance_high"], row
        for name, value in row.items():
            assert not (isinstance(value, float) and math.isinf(value)), (name, row)
            if isinstance(value, float) and math.isnan(value):
                assert row["limit"] not in ("", "none"), (name, row)
    text = advice_text(advice, 1.0, None)
    words = text.replace("(", " ").replace(",", " ").split()
    assert not {"nan", "inf", "-inf", "None", "NaT"} & set(words), text
    whole = as_json(advice)
    json.loads(whole, parse_constant=lambda word: pytest.fail(word))
    return whole


@pytest.mark.long
def test_questions(portion, tally, cache):
    """Stations, places, times, skies and bands of every kind."""

    @portion(0.4)
    @given(asked(), st.integers(0, 19))
    def ask(case, twice):
        try:
            advice = put(*case, cache)
        except InputError as error:
            tally["questions to the library", "refused"] += 1
            assert_one_line(error)
            event(str(error)[:25])
            return
        tally["questions to the library", "answered"] += 1
        whole = assert_holds_water(advice)
        if twice == 0:
            assert as_json(put(*case, cache)) == whole

    ask()


def test_wires(portion, tally):
    """Shapes with random dimensions hang, or are refused with a reason."""

    @portion(0.14)
    @given(makers.wires(wild=0.05), st.sampled_from(makers.BANDS))
    def put_up(wire, band):
        try:
            setup = build_set_up(wire, (band,))
            for each in hung_wire(setup, band_by_name(band).planning_mhz).wires:
                ends = np.array([each.start_m, each.end_m])
                assert np.isfinite(ends).all()
                assert (ends[:, 2] >= 0.0).all(), "below the ground"
        except InputError as error:
            tally["wires", "refused"] += 1
            assert_one_line(error)
            return
        tally["wires", "answered"] += 1

    put_up()


def test_solved_wires(portion, tally):
    """Some are solved too: the gains are numbers, and no power is made."""

    @portion(0.01)
    @given(makers.wires(), st.sampled_from(makers.BANDS[:10]), makers.GROUNDS)
    def solve(wire, name, ground):
        try:
            setup = build_set_up(wire, (name,))
            bands = [each for each in bands_for_region(1) if each.name == name]
            found = solve_setup(setup, bands, ground)
        except InputError as error:
            tally["solved wires", "refused"] += 1
            assert_one_line(error)
            return
        for solved in found.values():
            assert np.isfinite(solved.pattern.vertical).all()
            assert np.isfinite(solved.pattern.horizontal).all()
            assert 0.0 <= solved.pattern.efficiency <= 1.0 + 1e-6
        tally["solved wires", "answered"] += 1

    solve()
