"""One cell, one figure: words, tables and JSON of an answer and its sisters agree."""

import html
import re
from functools import cache

import numpy as np
import pytest

from advisor.answers.ask import answer, answers, question_for
from advisor.answers.best import STAY_CHANCE
from advisor.answers.compare import compare
from advisor.answers.far_places.reach import reach
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.one_wire.wire import wire_work
from advisor.answers.outing.plan import plan_activation
from advisor.answers.outing.timetable import Costs
from advisor.answers.rows.activation import activation_rows
from advisor.answers.rows.compare import compare_rows
from advisor.answers.rows.tonight import advice_details, advice_rows
from advisor.answers.why import explain_chance
from advisor.answers.words import headline_parts, reasons
from advisor.commands.sheets import answer_page
from advisor.engine.wires import solve_setup
from advisor.show.page.plan_sections import timetable_section
from advisor.show.text.cells import text_table
from advisor.show.text.one_screen import screen_text
from advisor.show.text.plan_tables import slot_columns
from advisor.show.text.tonight import advice_text
from advisor.show.text.why import why_text
from advisor.station.emissions import emission_by_name
from advisor.station.file import resolve_station
from geo.errors import InputError
from geo.fields import as_mapping

BANDS = ["40 m", "20 m", "15 m"]
HOURS = 2
SEEDS = (0, 3, 5)


@cache
def told(seed):
    """Answer a question that is drawn."""
    return answer(drawn(seed))


def drawn(seed):
    """Draw a station with two wires that hang, a target and a day."""
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(-55.0, 55.0), rng.uniform(-180.0, 180.0)
    away = rng.uniform(3.0, 40.0)
    setups = [
        {
            "name": "wire",
            "shape": "dipole",
            "height_m": round(rng.uniform(5.0, 14.0), 1),
            "bearing_deg": round(rng.uniform(0.0, 180.0)),
        },
        {"name": "rod", "shape": "ground-mounted vertical", "bands": ["20 m"]},
    ]
    station, _ = resolve_station(
        None,
        {
            "place": f"{lat:.2f},{lon:.2f}",
            "power_w": float(rng.choice([5.0, 100.0])),
            "emission": str(rng.choice(["CW", "SSB", "FT8"])),
            "bands": BANDS,
            "setups": setups,
        },
    )
    noon = np.datetime64("2026-01-15T12") - np.timedelta64(round(lon / 15.0), "h")
    day = noon + np.timedelta64(int(rng.integers(300)), "D")
    day += np.timedelta64(int(rng.integers(-3, 8)), "h")
    east = (lon + away + 180.0) % 360.0 - 180.0
    to = f"{lat + away * rng.uniform(-0.4, 0.4):.2f},{east:.2f}"
    return question_for(station, [to], day, HOURS, r12=float(rng.integers(20, 140)))


@pytest.fixture(scope="module", params=SEEDS)
def whole(request):
    """Answer with its rows by set-up, hour and band."""
    advice = told(request.param)
    rows = {(row.setup, row.utc, row.band): row for row in advice_rows(advice)}
    return advice, rows


@pytest.mark.slow
def test_the_draws_are_of_both_kinds():
    """Some cells are open and some shut, or the rest proves little."""
    found = [told(seed).states[0] == 0 for seed in SEEDS]
    assert 0.05 < np.mean(found) < 0.95


@pytest.mark.slow
def test_words_and_table_are_the_rows(whole):
    """The star of each hour, its days in ten, and the best of all in the headline."""
    advice, rows = whole
    text = advice_text(advice, 0.0)
    (said,) = advice_details(advice).answer
    lines = [line for line in text.splitlines() if re.match(r" ?\d\d? ", line)]
    for hour, line in zip(said.hours, lines[:HOURS], strict=True):
        stars = re.findall(r"(\d+)\*", line)
        if not hour.band:
            assert not stars
            assert hour.chance < OPEN_CHANCE
            continue
        row = rows[hour.setup, hour.utc, hour.band]
        assert row.state == "open"
        assert row.chance == hour.chance
        assert [int(star) for star in stars] == [max(round(10 * row.chance), 1)]
    marked = [rows[hour.setup, hour.utc, hour.band] for hour in said.hours if hour.band]
    if marked:
        best = max(marked, key=lambda row: row.chance)
        assert f"({best.band} at {best.utc[11:13]}Z)" in said.headline
        assert f"{best.band} " in said.headline.partition("At best")[0]
        # No other band beats the plan by more than a change is worth.
        assert best.chance > max(row.chance for row in rows.values()) - STAY_CHANCE
    for shut in said.not_open:
        states = {row.state for row in rows.values() if row.band == shut.band}
        assert "open" not in states
        assert shut.state in states


@pytest.mark.slow
def test_the_page_holds_the_same_cells_and_words():
    """Figures to the last digit, the star of each hour, headline and reasons."""
    advice = told(SEEDS[1])
    rows = advice_rows(advice)
    page = html.unescape(answer_page(advice, None, "skiplobe tonight", None))
    table = page.partition('<table id="hours-0"')[2].partition("</table>")[0]
    lines = re.findall(r"<tr><th[^>]*>(\d\d)Z</th>(.*?)</tr>", table)
    assert len(lines) == HOURS
    (said,) = advice_details(advice).answer
    for hour, (clock, line) in zip(said.hours, lines, strict=True):
        assert hour.utc[11:13] == clock
        cells = re.findall(r'class="([^"]*)"><data value="([^"]*)">([^<]*)<', line)
        for band, (look, value, shown) in zip(BANDS, cells[: len(BANDS)], strict=True):
            here = [r for r in rows if (r.utc, r.band) == (hour.utc, band)]
            assert float(value) == max(row.chance for row in here)
            assert ("best" in look) == ("*" in shown) == (band == hour.band)
    plain = " ".join(
        re.sub(r"<[^>]*>", "", page).replace("\N{NO-BREAK SPACE}", " ").split()
    )
    for part in headline_parts(advice, 0):
        assert part in said.headline
        assert part in plain
    for reason in reasons(advice, 0):
        assert reason in plain


@pytest.mark.slow
def test_compare_tells_the_same_of_every_cell(whole):
    advice, rows = whole
    for row in compare_rows(compare(advice)):
        mine = rows[row.setup, row.utc, row.band]
        for name in vars(mine):
            one, two = getattr(row, name), getattr(mine, name)
            assert one == two or (one != one and two != two), name


@pytest.mark.slow
def test_why_lays_the_same_cell_open(whole):
    """
    Of one hour and band: figures, state, limit and the mode that carries it.

    The magnetic field is that of the middle of the hours asked, hence not to the bit.
    """
    advice, rows = whole
    asked = advice.question
    for seen in (max, min):
        row = seen(rows.values(), key=lambda row: row.chance)
        question = question_for(
            asked.station,
            [asked.targets[0].name],
            np.datetime64(row.utc.removesuffix("Z")),
            1,
            band_names=[row.band],
            r12=float(asked.solar.r12[0]),
        )
        why = explain_chance(question, [row.setup])
        for ours, theirs in (
            (why.whole.chance, row.chance),
            (why.whole.chance_heard, row.chance_heard),
            (why.whole.chance_low, row.chance_low),
            (why.whole.chance_high, row.chance_high),
            (why.whole.path_support, row.support),
        ):
            assert ours == pytest.approx(theirs, abs=1e-6)
        assert why.whole.state == row.state
        text = why_text(why, question)
        assert f"{10 * row.chance:.1f} days in ten" in text
        if row.chance >= OPEN_CHANCE:
            assert why.budgets[-1 if row.mode == "ground wave" else 0].way == row.mode


@pytest.mark.slow
def test_reach_and_wire_look_at_the_same_wire_and_target(whole):
    advice, _ = whole
    question = advice.question
    found = reach(question, towards=True)
    target = advice.targets[0]
    assert found.towards.mean_km == target.mean_km
    assert np.array_equal(found.towards.takeoff_deg, target.takeoff_deg, equal_nan=True)
    for one in found.setups:
        mine = next(each for each in advice.setups if each.name == one.name)
        assert np.array_equal(one.works, mine.works)
        assert one.wire_deg == mine.bearing.wire_deg
    dipole = question.station.setups[0]
    work = wire_work(question.station, dipole, ["20 m"])
    (band,) = work.bands
    loss_db = solve_setup(dipole, question.bands, question.station.ground)["20 m"]
    peak = advice.halves.patterns[dipole.name]["20 m"].peak()
    assert peak.gain_dbi == pytest.approx(
        band.sky.peak.gain_dbi - float(loss_db.chain.loss_db[0]), abs=1e-6
    )
    assert peak.takeoff_deg == band.sky.peak.takeoff_deg


@pytest.mark.slow
def test_the_plan_is_made_of_the_same_cells(whole):
    """Each slot in JSON is the mean of its cells, and in the timetable to a decimal."""
    advice, rows = whole
    plan = plan_activation(advice.question, np.ones(1), Costs(3.0, 20.0))
    table = text_table(slot_columns(plan, None), plan.slots).splitlines()[1:]
    told = activation_rows(plan)
    (paged,) = timetable_section(plan).tables
    assert len(table) == len(told) == len(plan.slots)
    for row, slot, line, cells_of in zip(
        told, plan.slots, table, paged.rows, strict=True
    ):
        on_page = [each.text for each in cells_of]
        hours = [f"{each}:00Z" for each in advice.question.times.astype("M8[h]")]
        cells = [
            rows[row.setup, hour, row.band].chance
            for hour in hours[slot.first : slot.last + 1]
            if row.band
        ]
        if not row.band:
            assert not row.setup
            continue
        assert row.chance == pytest.approx(np.mean(cells), abs=1e-9)
        assert max(cells) >= OPEN_CHANCE
        assert row.band in line
        assert row.band in on_page
        if row.chance >= OPEN_CHANCE:
            assert f" {10 * row.chance:.1f} " in line
            assert f"{10 * row.chance:.1f}" in on_page


SENT = [emission_by_name(name) for name in ("SSB", "CW")]


def both_asked(sent=SENT, bearing="any", bands=("30 m", "20 m", "15 m")):
    """Ask about one wire with a band that only one emission has."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 9.0, "bearing_deg": bearing}
    values = {"place": "KF07jo", "bands": list(bands), "setups": [wire]}
    station, _ = resolve_station(None, {**values, "emission": sent[0].name})
    day = np.datetime64("2026-12-05T15")
    return question_for(station, ["KE", "ZW"], day, 4, r12=58.0)


@pytest.fixture(scope="module")
def both():
    """Answers of one question, SSB first."""
    return answers(both_asked(), SENT)


@pytest.mark.slow
def test_each_emission_is_answered_as_if_asked_alone(both):
    """On its own bands, with the wire where the first has it."""
    turned = both[0].setups[0].bearing.wire_deg
    rows = advice_rows(*both)
    for sent, bands in zip(
        SENT, (["20 m", "15 m"], ["30 m", "20 m", "15 m"]), strict=True
    ):
        alone = answer(both_asked([sent], turned, bands))
        mine = [row for row in rows if row.emission == sent.name]
        assert len(mine) == len(bands) * 8
        for one, two in zip(mine, advice_rows(alone), strict=True):
            assert (one.utc, one.band, one.state) == (two.utc, two.band, two.state)
            assert one.chance == two.chance
    assert "emission" not in as_mapping(advice_rows(both[0])[0])
    assert "emission" not in as_mapping(advice_details(both[0]).answer[0])


@pytest.mark.slow
def test_the_table_of_several_emissions_is_their_rows(both):
    """A column a target and emission: band and days in ten of that emission's best."""
    text = screen_text(both, 0.0)
    rows = {(r.emission, r.target, r.utc, r.band): r for r in advice_rows(*both)}
    assert "A SSB" in text
    assert "B CW" in text
    lines = [line for line in text.splitlines() if re.match(r" ?\d\d  ", line)]
    told = advice_details(*both).answer
    assert [each.emission for each in told] == ["SSB", "CW"] * 2
    stars = 0
    for t, line in enumerate(lines):
        cells = re.split(r"\s{2,}", line.strip())[1:]
        for said, cell in zip(told, cells, strict=True):
            hour = said.hours[t]
            if hour.band:
                chance = rows[said.emission, said.target, hour.utc, hour.band].chance
                assert cell == f"{hour.band} {max(round(10 * chance), 1)}*"
                stars += 1
    assert stars > 4
    for said in told:
        assert said.headline.split()[0] in " ".join(text.split())


def test_emissions_that_cannot_be_asked_together_are_refused():
    for sent, bands in ((SENT * 2, ["20 m"]), (SENT, ["30 m"])):
        with pytest.raises(InputError, match=r"each once|SSB is not used"):
            answers(both_asked(bands=bands), sent)
