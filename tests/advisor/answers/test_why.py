"""One figure laid open: it is that of tonight, and its sums add up."""

import csv
import io
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.text import Text

from advisor.answers.ask import answer, question_for
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.why import explain_chance
from advisor.answers.why_facts import source_of
from advisor.cli import main
from advisor.commands.schema import forms
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.targets import median_point, point_of
from advisor.propagation.losses import LOSSES, Loss
from advisor.propagation.noise import Noise, combine
from advisor.show.charts import way_sum
from advisor.show.formats.schema import schema_of
from advisor.show.page.why import why_sheet
from advisor.show.text.way_sum import step_label
from advisor.show.text.why import why_text
from advisor.station.file import demo_station, resolve_station
from geo.errors import InputError
from geo.places import parse_place, resolve_target
from geo.terrain import terrain_of_points
from tests.once import take_out

FROM = ["--from", "KF07jo", "--r12", "60"]
WIRE = ["--shape", "dipole", "--height-m", "8", "--bearing-deg", "110"]
AT = "2026-12-05T16:00Z"
DEMO = ["--r12", "60"]

PROGRAM = {"program": "skiplobe", "version": "0", "tables_sha256": {}}

TERMS = tuple(f"{name}_db" for name in LOSSES)


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


def told(*words: str) -> dict:
    """Run ``why`` and read its JSON."""
    result = run("why", *words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout, parse_constant=lambda _: pytest.fail("not JSON"))


def ask(
    target, hour="2026-12-05T16", band="20 m", place="KF07jo", long_path=False, **values
):
    """Question of one target, hour and band with a dipole that hangs."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 8.0, "bearing_deg": 110.0}
    station, _ = resolve_station(
        None, {"place": place, "setups": [wire], "power_w": 100.0} | values
    )
    return question_for(
        station,
        [target],
        np.datetime64(hour),
        1,
        band_names=[band],
        r12=60.0,
        long_path=long_path,
    )


CASES = {
    "F2 over 3800 km": ("-1.3,36.8", "2026-12-05T16", "20 m"),
    "E layer by day": ("-26,28", "2026-12-05T10", "40 m"),
    "sporadic E": ("-20,30", "2026-12-21T12", "10 m"),
    "ground wave": ("-32.4,21.8", "2026-12-05T10", "80 m"),
    "closed": ("-1.3,36.8", "2026-06-21T01", "10 m"),
    "blended at 8000 km": ("28,77", "2026-03-21T14", "15 m"),
    "long path": ("-42,147", "2026-03-21T08", "20 m"),
    "region": ("014", "2026-12-05T16", "20 m"),
}


QUICK = ("F2 over 3800 km",)


@pytest.fixture(
    scope="module",
    params=[
        pytest.param(name, marks=() if name in QUICK else pytest.mark.slow)
        for name in CASES
    ],
)
def case(request):
    """A question and the answer laid open."""
    target, hour, band = CASES[request.param]
    question = ask(target, hour, band)
    return question, explain_chance(question)


@pytest.mark.slow
@pytest.mark.parametrize("target", ["-1.3,36.8", "KI88", "014"])
def test_the_figure_is_that_of_tonight(target):
    """Same question, same bits: chance, both directions, margin, limit, range."""
    row = told("--to", target, *FROM, *WIRE, "--band", "20 m", "--at", AT)
    words = ["--to", target, *FROM, *WIRE, "--band", "20 m", "--date", AT]
    night = json.loads(run("tonight", *words, "--hours", "1", "--json").stdout)
    (other,) = night["results"]
    whole = row["why"]["whole"]
    for key in ("chance", "chance_heard", "chance_hear", "chance_low", "chance_high"):
        assert whole[key] == other[key], key
    assert whole["margin_db"] == other["margin_db"]
    assert whole["path_support"] == other["support"]
    if target != "014":
        assert row["why"]["here"]["chance"] == other["chance"]


@pytest.mark.slow
def test_a_free_wire_hangs_as_tonight_hangs_it():
    """The demonstration, whose wire is free to turn, in a night of one hour."""
    row = told(*DEMO, "--band", "20 m", "--at", AT)["why"]
    words = [*DEMO, "--band", "20 m", "--date", AT, "--hours", "1", "--json"]
    night = json.loads(run("tonight", *words).stdout)
    best = max(night["results"], key=lambda each: each["chance"])
    assert (row["setup"], row["whole"]["chance"]) == (best["setup"], best["chance"])
    assert row["wire_deg"] == night["bearing"][row["setup"]]["wire_deg"]


def test_sums_add_up(case):
    """Losses to their total, powers to the ratio, the ratio to the margin."""
    _, why = case
    assert why.budgets or not any(mode.is_clear for mode in why.modes)
    for one in why.budgets:
        parts = [one.figures()[name] for name in TERMS]
        if not math.isnan(parts[0]):
            assert sum(parts) == pytest.approx(one.loss_db, abs=1e-9)
        got = one.power_dbw + one.gain_dbi + one.far_gain_dbi - one.loss_db
        assert got == pytest.approx(one.received_dbw, abs=1e-9)
        assert one.snr_db == pytest.approx(one.received_dbw - one.noise_dbw, abs=1e-9)
        assert one.margin_db == pytest.approx(one.snr_db - one.needed_snr_db, abs=1e-9)


@pytest.mark.parametrize("direction", ["heard", "hear"])
def test_the_steps_lead_from_the_sender_to_the_ear(case, direction):
    """Every term once, the antenna of the sender before the way, the other behind."""
    _, why = case
    for one in why.budgets:
        steps = one.steps(direction)
        assert sum(steps.values()) == pytest.approx(one.received_dbw, abs=1e-9)
        first = "gain_dbi" if direction == "heard" else "far_gain_dbi"
        assert list(steps)[:2] == ["power_dbw", first]
        middle = [name for name, db in one.losses_db.items() if not math.isnan(db)]
        assert list(steps)[2:-1] == (middle or ["loss_db"])


def test_text_picture_and_page_have_the_same_sum(case):
    """Every figure of the picture stands in the row of that name, on page and text."""
    question, why = case
    if not why.budgets:
        assert "no way" in way_sum.alt_text(why)
        return
    texts = [text.get_text() for text in way_sum.figure(why).findobj(Text)]
    sheet = why_sheet(why, question, {}, PROGRAM, "skiplobe why")
    (drawn,) = [each for part in sheet.sections for each in part.pictures]
    page = {row[0].text: float(row[1].exact) for row in drawn.table.rows}
    lines = why_text(why, question).partition("\npower of")[2].splitlines()
    lines[0] = f"power of{lines[0]}"
    steps = why.budgets[0].steps(why.direction)
    for name, db in steps.items():
        label = step_label(name)
        assert page[label] == db
        line = next(each for each in lines if each.startswith(label))
        assert line[len(label) :].split()[0] == f"{round(db, 1) + 0.0:.1f}"
        called = label.rpartition(",")[0] or label
        is_first = name == "power_dbw"
        if is_first or abs(db) >= 0.05:
            assert called in texts
            assert f"{round(db, 1):{'' if is_first else '+'}.1f}" in texts
    # The words of the terms and their figures, row by row.
    first = texts.index("power of the sender")
    rows = texts[first : texts.index("arrives")]
    assert len(rows) == 1 + sum(abs(db) >= 0.05 for db in list(steps.values())[1:])
    spare = f"{abs(why.budgets[0].margin_db):.1f} dB "
    assert any(text.startswith(spare) for text in texts)


def test_margins_of_the_sums_are_those_of_the_modes(case):
    """The line-by-line sum ends where the engine's arithmetic ends."""
    _, why = case
    margins = {mode.name: mode.margin_db for mode in why.modes}
    for one in why.budgets:
        if one.way not in ("ground wave", "many hops"):  # no modes of hops
            assert one.margin_db == pytest.approx(margins[one.way], abs=1e-9)


def test_parts_of_the_noise_make_its_total(case):
    """Man-made, galactic and lightning added by P.372 give the engine's noise."""
    _, why = case
    *parts, total = why.noise
    assert [part.name for part in why.noise] == [
        "man-made",
        "galactic",
        "lightning",
        "total",
    ]
    sources = [
        Noise(
            np.array(-np.inf if math.isnan(part.factor_db) else part.factor_db),
            np.array(part.upper_db),
            np.array(part.lower_db),
        )
        for part in parts
    ]
    added = combine(sources)
    assert added.factor_db == pytest.approx(total.factor_db, abs=1e-9)
    assert added.upper_db == pytest.approx(total.upper_db, abs=1e-9)
    assert added.lower_db == pytest.approx(total.lower_db, abs=1e-9)
    assert total.factor_db >= max(
        part.factor_db for part in parts if not math.isnan(part.factor_db)
    )


def test_shares_of_the_signal_sum_to_one_or_to_nothing(case):
    """All of the power comes by some mode; blocked ones bring none."""
    _, why = case
    total = sum(mode.share for mode in why.modes)
    assert total == pytest.approx(1.0) or total == 0.0
    assert all(mode.share == 0.0 for mode in why.modes if not mode.is_clear)


def test_gain_plus_what_is_missing_is_the_peak(case):
    """No way is served better than by the wire's best direction, but along ground."""
    _, why = case
    for one in why.budgets:
        assert one.gain_dbi + one.below_peak_db == pytest.approx(why.peak_dbi)
        if one.way != "ground wave":
            assert one.below_peak_db >= -1e-9


def test_control_points_run_from_end_to_end(case):
    """In order, from my place to the far end, no point twice."""
    question, why = case
    along = [point.along_km for point in why.control_points]
    assert along == sorted(along)
    assert len(set(along)) == len(along)
    first, last = why.control_points[0], why.control_points[-1]
    assert (first.name, last.name) == ("my end", "far end")
    assert first.lat_deg == pytest.approx(question.place.lat_deg)
    assert (last.lat_deg, last.lon_deg) == (why.lat_deg, why.lon_deg)
    assert last.along_km == pytest.approx(why.distance_km)


@pytest.mark.slow
def test_long_paths_are_told_by_their_hops():
    """At 8000 km and farther as near by: each way named by its hops and its layer."""
    for case, fewest in (
        ("long path", 3), ("blended at 8000 km", 2), ("F2 over 3800 km", 1)
    ):  # fmt: skip
        found = explain_chance(ask(*CASES[case]))
        ways = [one.way for one in found.budgets]
        assert ways
        assert len(set(ways)) == len(ways)
        hops = [int(re.match(r"(\d+)(E|F1|F2|Es)\b", way)[1]) for way in ways]
        assert min(hops) >= fewest, case


@pytest.mark.slow
def test_the_long_way_round_leaves_the_other_way():
    """Bearings turn by 180 degrees at both ends."""
    short, long = (
        explain_chance(ask("-42,147", band="20 m", long_path=turned))
        for turned in (False, True)
    )
    assert (long.bearing_deg - short.bearing_deg) % 360.0 == pytest.approx(180.0)
    assert (long.far_bearing_deg - short.far_bearing_deg) % 360.0 == pytest.approx(
        180.0
    )


@pytest.mark.slow
def test_compass_bearings_differ_by_the_declination_of_each_end():
    """South Africa: compasses point 24 to 28 degrees west of north there in 2026.

    IGRF-14 at the two ends; the isogonic charts of South Africa show about 26 W in
    the Northern Cape (from memory), Nairobi has about 1 E (from memory).
    """
    why = explain_chance(ask("-1.3,36.8"))
    west = (why.magnetic_bearing_deg - why.bearing_deg) % 360.0
    assert 24.0 < west < 28.0
    east = (why.far_bearing_deg - why.far_magnetic_bearing_deg + 180.0) % 360.0 - 180.0
    assert -1.0 < east < 2.5


@pytest.mark.slow
def test_more_signal_power_and_quiet_never_cost():
    """And more of both ways gives at least what power alone gives."""
    changes = {
        change.kind: change
        for change in explain_chance(ask("-1.3,36.8", power_w=1.0)).changes
    }
    assert changes["signal"].gain > 0.05
    assert changes["power"].gain >= 0.0
    assert changes["noise"].gain >= 0.0
    assert changes["signal"].chance >= changes["power"].chance - 1e-12


@pytest.mark.slow
def test_each_change_is_the_answer_to_the_changed_question():
    """Hour, band, power and noise altered by hand give the same chances."""
    question = ask("-1.3,36.8", bands=["30 m", "20 m", "17 m"])
    found = {change.what: change.chance for change in explain_chance(question).changes}
    by_hand = {
        "an hour earlier (15Z)": ask("-1.3,36.8", "2026-12-05T15"),
        "an hour later (17Z)": ask("-1.3,36.8", "2026-12-05T17"),
        "on 30 m": ask("-1.3,36.8", band="30 m"),
        "on 17 m": ask("-1.3,36.8", band="17 m"),
        "twice the power": ask("-1.3,36.8", power_w=200.0),
        "a spot with 6 dB less man-made noise": ask("-1.3,36.8", noise_trim_db=-6.0),
    }
    for what, other in by_hand.items():
        assert found[what] == pytest.approx(explain_chance(other).whole.chance), what


@pytest.mark.slow
def test_turning_is_offered_to_a_wire_that_hangs_badly():
    """End on to the target; a wire at its best bearing is not told to turn."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 12.0}
    end_on = explain_chance(ask("-1.3,36.8", setups=[wire | {"bearing_deg": 29.0}]))
    (turn,) = [change for change in end_on.changes if change.kind == "bearing"]
    assert turn.gain > 0.0
    free = explain_chance(ask("-1.3,36.8", setups=[wire | {"bearing_deg": "any"}]))
    assert not [change for change in free.changes if change.kind == "bearing"]
    assert free.whole.chance == pytest.approx(turn.chance, abs=0.02)


@pytest.mark.slow
def test_the_point_shown_has_half_of_the_weight_on_either_side():
    """Weighted median of the distances."""
    here = parse_place("KF07jo")
    target = resolve_target("014", here)
    question = ask("014")
    why = explain_chance(question)
    far = link_for(question, 60.0, _far(question)).paths.distance_km
    nearer = target.weight[far < why.distance_km - 1e-6].sum()
    farther = target.weight[far > why.distance_km + 1e-6].sum()
    assert nearer <= 0.5 + 1e-9
    assert farther <= 0.5 + 1e-9
    point = median_point(target, here.lat_deg, here.lon_deg)
    assert point_of(target, point).lat_deg.tolist() == [why.lat_deg]


def _far(question):
    """Pattern of the far end."""
    from advisor.engine.wires import far_end_patterns

    return far_end_patterns(question.station.far_end, question.bands)


@pytest.mark.slow
def test_the_point_shown_has_the_chance_it_has_within_the_region():
    """Asked for alone or among the others, one point is one point."""
    from advisor.engine.wires import patterns_of

    question = ask("014")
    why = explain_chance(question)
    link = link_for(question, question.solar.r12, _far(question))
    wire = patterns_of(question.station.setups[0], question)
    both = contact_chance(link, wire_gains(question, link, wire, 110.0)).both[0]
    point = median_point(question.targets[0], -32.395833, 20.791667)
    assert why.here.chance == pytest.approx(both[point, 0, 0], abs=1e-12)


@pytest.mark.slow
def test_every_line_names_its_source():
    """In CSV each number of path, layers, modes, sums and noise says whence."""
    words = ["--to", "-1.3,36.8", *FROM, *WIRE, "--band", "20 m", "--at", AT]
    rows = list(csv.DictReader(io.StringIO(run("why", *words, "--csv").stdout)))
    named = ("sum: ", "noise: ", "layers", "change: ")
    bare = [
        row for row in rows if row["section"].startswith(named) and not row["source"]
    ]
    assert not bare
    (spreading,) = [
        row
        for row in rows
        if row["item"] == "spreading_db" and row["section"] == "sum: 2F2"
    ]
    assert spreading["source"] == source_of("spreading_db")
    sums = {
        row["item"]: float(row["value"]) for row in rows if "sum: 2F2" in row.values()
    }
    assert sum(sums[name] for name in TERMS) == pytest.approx(sums["loss_db"])


@pytest.mark.slow
def test_free_space_loss_of_one_hop():
    """
    Spreading is that of the standard at the length of the ray.

    ITU-R P.525-4, equation (4): 32.4 + 20 log f + 20 log d. The ray over two mirrors
    is at least the great circle and at most a few percent longer at these angles.
    """
    why = explain_chance(ask("-1.3,36.8"))
    one = next(each for each in why.budgets if each.way == "2F2")
    least = 32.45 + 20.0 * math.log10(14.1) + 20.0 * math.log10(why.distance_km)
    assert least < one.losses_db["spreading_db"] < least + 1.0


@pytest.mark.slow
def test_closed_band_is_an_answer():
    """Exit code 0; a ray below the horizon is not summed to show what lacks."""
    why = told("--to", "-1.3,36.8", *FROM, *WIRE, "--band", "10 m", "--at", AT)["why"]
    assert why["whole"]["chance"] < 0.5
    night = explain_chance(ask(*CASES["closed"]))
    assert night.whole.chance < 0.01
    clear = {mode.name for mode in night.modes if mode.is_clear}
    assert {each.way for each in night.budgets} <= clear


def test_more_than_one_question_is_refused_by_the_library():
    """One target, one hour, one band."""
    station, _ = resolve_station(demo_station(), {})
    start = np.datetime64("2026-12-05T16")
    with pytest.raises(InputError, match="2 hours to explain: name one hour"):
        explain_chance(
            question_for(station, ["KE"], start, 2, band_names=["20 m"], r12=60.0)
        )


@pytest.mark.slow
def test_a_new_loss_is_one_entry(monkeypatch, request):
    """It is in the sum, in the text, the rows, the JSON and its schema."""
    take_out(monkeypatch, request.module)
    question = ask(*CASES["F2 over 3800 km"])
    words = ["--to", "-1.3,36.8", *FROM, *WIRE, "--band", "20 m", "--at", AT]
    plain, before = explain_chance(question), told(*words)
    monkeypatch.setitem(
        LOSSES,
        "felt",
        Loss(
            "felt on the wire",
            "what felt takes",
            "made up for this test",
            lambda rays: 0.2 * rays.frequency_mhz[:, None],
        ),
    )
    felt = explain_chance(question)
    strongest, same = felt.budgets[0], plain.budgets[0]
    assert strongest.way == same.way
    assert strongest.losses_db["felt_db"] == pytest.approx(2.82)
    assert strongest.loss_db == pytest.approx(same.loss_db + 2.82)
    assert strongest.margin_db == pytest.approx(same.margin_db - 2.82)
    assert felt.whole.chance < plain.whole.chance
    (line,) = [
        row for row in run("why", *words, "--more").stdout.splitlines() if "felt" in row
    ]
    assert line.startswith("felt on the wire")
    assert line.endswith("made up for this test")
    assert "-2.8" in line
    after = told(*words)
    assert list(after["why"]["budgets"][0]) == [
        name
        for old in before["why"]["budgets"][0]
        for name in ((old, "felt_db") if old == "residual_db" else (old,))
    ]
    (row,) = [
        row
        for row in after["results"]
        if (row["section"], row["item"]) == ("sum: 2F2", "felt_db")
    ]
    assert row["source"] == "made up for this test"
    assert row["value"] == pytest.approx(2.82)
    jsonschema.validate(after, schema_of(forms()["why"]))
    budget = schema_of(forms()["why"])["$defs"]["budget"]
    assert "what felt takes" in budget["properties"]["felt_db"]["description"]
    assert "felt_db" in budget["required"]


def test_every_loss_has_its_line_in_the_nomenclature():
    """Name and meaning of each term, as the sum shows it."""
    page = Path(__file__).resolve().parents[3] / "docs" / "nomenclature.md"
    text = page.read_text(encoding="utf-8")
    for name, loss in LOSSES.items():
        assert f"| `{name}_db` | {loss.meaning} | {loss.source} |" in text


@pytest.mark.slow
def test_the_sum_names_what_the_hills_give():
    """Ground that falls to the target: more gain, and by as much as the line says."""
    slopes = [(a, 500.0, -70.0 if a in (90, 180) else 0.0) for a in (0, 90, 180, 270)]
    question = ask("-1.3,36.8", "2026-12-05T16", "20 m", horizon_deg=3.0)
    flat = explain_chance(question).budgets
    station = replace(question.station, hills=terrain_of_points(slopes))
    hilly = explain_chance(replace(question, station=station)).budgets
    assert "hill_db" not in flat[0].figures()
    gains = {budget.way: budget.gain_dbi for budget in flat}
    shared = [budget for budget in hilly if budget.way in gains]
    assert shared
    for budget in shared:
        more = budget.gain_dbi - gains[budget.way]
        assert budget.hill_db == pytest.approx(more, abs=1e-6)
        assert list(budget.figures())[2] == "hill_db"
    assert max(budget.hill_db for budget in shared) > 0.0


@pytest.mark.slow
def test_a_shut_band_says_when_it_opens_next():
    """160 m over 700 km is absorbed at noon and opens after dark as in `tonight`."""
    noon = ask("-26,24", hour="2026-12-05T10", band="160 m")
    why = explain_chance(noon)
    assert why.whole.limit.startswith("absorbed")
    day = answer(replace(noon, times=noon.times + np.arange(1, 25).astype("m8[h]")))
    chance = day.setups[0].chance[0, :, 0]
    first = int(np.flatnonzero(chance >= OPEN_CHANCE)[0])
    assert 3 < first < 12
    assert why.opens_utc == f"2026-12-05T{11 + first:02d}:00Z"
    assert why.opens_chance == pytest.approx(chance[first], abs=1e-3)
    said = " ".join(why_text(why, noon).split())
    opens = f"It opens next at {11 + first:02d}Z ("
    assert opens in said
    page = why_sheet(why, noon, {}, PROGRAM, "skiplobe why")
    assert any(opens in line for line in vars(page.headings[0]).values() if line)
    never = ask("-26,24", hour="2026-12-05T10", band="10 m", power_w=0.01)
    said = " ".join(why_text(explain_chance(never), never).split())
    assert "It does not open in the next 24 hours." in said
    assert "opens" not in why_text(
        explain_chance(ask("-26,24", band="40 m")), ask("-26,24", band="40 m")
    )
