"""What is told against what was received: the figures shown are the program's own."""

import gzip
import json
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT.parent / "shared" / "data" / "air"

sys.path.insert(0, str(ROOT / "docs" / "studies"))
try:
    import on_air
    import on_air_learned
    import on_air_signals
    import on_air_skip
    import on_air_spots
finally:
    sys.path.remove(str(ROOT / "docs" / "studies"))

recorded = pytest.mark.skipif(not FOLDER.is_dir(), reason="the records are not here")


def test_the_page_shows_the_states_that_are_kept():
    """Run docs/studies/on_air.py FOLDER --write NAME if this fails."""
    page = on_air.PAGE.read_text(encoding="utf-8")
    assert on_air.put_in(page, on_air.block(on_air.read_states())) == page


@recorded
@pytest.mark.long
@pytest.mark.parametrize("study", [on_air_signals, on_air_skip])
def test_the_last_state_is_the_program_as_it_is(study):
    """Of the same records: time signals of two days, five months of decodes."""
    last = on_air.read_states()[-1]["figures"]
    figures, pairs = study.figures(FOLDER)
    for name, value in figures.items():
        assert value == pytest.approx(last[name], rel=0.02, abs=0.005), name
    kept = last["said_heard"][study.__name__.removeprefix("on_air_")]
    for (count, *means), (n, *shown) in zip(on_air.binned(pairs), kept, strict=True):
        assert abs(count - n) <= 2
        assert count == 0 or means == pytest.approx(shown, abs=0.02)


@pytest.fixture(scope="module")
def late():
    """One day of the decodes, for time's sake, and what check tells of it."""
    day = on_air_learned.LATE
    by_day = {day: on_air_spots.decodes(FOLDER / on_air_spots.DECODES)[day]}
    return by_day, on_air_learned.told_of(by_day, None)[1]


@recorded
@pytest.mark.long
def test_check_tells_of_the_decodes_what_the_study_does(late, monkeypatch):
    """The same rows as a file of spots; the sky in the middle of ten days there."""
    by_day, found = late
    # The study tells whole decibels: half of one would be of its rounding.
    monkeypatch.setattr(on_air_spots, "CONSTANTS_DB", np.arange(0.0, 41.0, 0.25))
    figures, _ = on_air_spots.figures_of(by_day)
    (level,), score = found.details.levels, found.details.score_with_levels
    assert level.constant_db == pytest.approx(figures["spots_constant_db"], abs=1.0)
    assert level.rms_db == pytest.approx(figures["spots_rms_db"], abs=0.3)
    assert score.brier == pytest.approx(figures["spots_brier"], abs=0.005)
    assert score.skill_of_band == pytest.approx(figures["spots_skill"], abs=0.03)
    for row in found.rows:
        if row.part == "band":
            came = figures[f"spots_heard_{row.name.removesuffix(' m')}"]
            assert row.came == pytest.approx(came)


def test_the_page_shows_what_was_learned():
    """Copied from docs/studies/on_air_learned.json, which ``--write`` renews."""
    page = on_air.PAGE.read_text(encoding="utf-8")
    kept = json.loads(on_air_learned.KEPT.read_text(encoding="utf-8"))
    for name, row in zip(("as it was", "as it learned"), kept["rows"], strict=True):
        cells = "{:.3f} | {:.3f} | {:.4f} | {:.1f}".format(*row)
        assert f"| {name} | {cells} |" in page


@recorded
@pytest.mark.long
def test_what_a_log_teaches_is_held_against_later_days_as_the_page_says(late):
    """A band of the days that teach, and a later day told: as when all was kept."""
    kept = json.loads(on_air_learned.KEPT.read_text(encoding="utf-8"))
    first = on_air_learned.first_half(
        on_air_spots.decodes(FOLDER / on_air_spots.DECODES)
    )
    _, early = on_air_learned.told_of(on_air_learned.on_band(first), None)
    by_day, found = late
    _, learned = on_air_learned.told_of(by_day, kept["learned"])
    rows = [kept["early"], *kept["late"]]
    for each, row in zip((early, found, learned), rows, strict=True):
        assert on_air_learned.row_of(each) == pytest.approx(row, abs=0.004, rel=0.1)


@recorded
@pytest.mark.bench
def test_all_that_was_learned_is_what_is_kept():
    """Some minutes, and so beside the benchmarks."""
    kept = json.loads(on_air_learned.KEPT.read_text(encoding="utf-8"))
    found = on_air_learned.figures(FOLDER)
    noise_db = kept["learned"]["noise_db"]
    assert found["learned"]["noise_db"] == pytest.approx(noise_db, abs=0.3)
    for row, shown in zip(found["rows"], kept["rows"], strict=True):
        assert row == pytest.approx(shown, abs=0.004, rel=0.1)


def series(level, heard, shares, mhz=10.0):
    """A series of a few hours, inaudible below 5 dB."""
    return on_air_signals.Series(
        "made up",
        mhz,
        np.arange(len(level)),
        np.array(level, dtype=float),
        np.full(len(level), 5.0),
        np.array(heard),
        np.array(shares, dtype=float).T,
    )


def test_the_score_of_a_sure_level_is_its_error_and_silence_is_censored():
    """Gneiting and Raftery (2007): the score of a single value is the plain error."""
    sure = (on_air_signals.LEVELS_DB <= -100.0).astype(float)
    # A constant of 120 puts the level between 20 and 22, the step of its grid.
    made = series([20, 30, 10, 0], [True, True, True, False], [sure] * 4)
    scores = on_air_signals.ranked_score_db(made, 120.0)
    assert scores == pytest.approx([1.0, 9.0, 11.0, 16.0], abs=1.0)
    never = series([0, 20], [False, True], [np.zeros_like(sure)] * 2)
    assert on_air_signals.ranked_score_db(never, 120.0) == pytest.approx([0.0, 15.0])


def test_constants_of_a_day_keep_together_but_for_an_antenna_of_one_height():
    """Three frequencies alike, one that no antenna explains: it keeps to the room."""
    sure = (on_air_signals.LEVELS_DB <= -100.0).astype(float)
    levels = {2.5: 8.0, 5.0: 14.0, 10.0: 20.0, 20.0: 66.0}
    many = [series([at] * 2, [True] * 2, [sure] * 2, f) for f, at in levels.items()]
    found = on_air_signals.constants_of(many)
    # A level below the median one is told between two steps of 2 dB.
    assert found[:3] == pytest.approx([108.0, 114.0, 120.0], abs=2.0)
    assert found[3] == pytest.approx(126.0 + on_air_signals.CONSTANT_ROOM_DB, abs=2.0)


def test_turns_are_those_of_neighbouring_hours():
    hours = np.array([0, 1, 2, 6, 7])
    open_ = np.array([True, False, False, True, False])
    assert on_air_signals.turns(hours, open_) == [(0.5, False), (6.5, False)]


def test_the_inner_edge_is_where_the_share_falls_to_half_of_the_best():
    # Middles at 250, 750 ...: half of 0.8 lies half way from 1250 to 1750 km.
    share = np.array([0.9, 0.0, 0.2, 0.6, 0.8, 0.7, 0.3])
    assert on_air_skip.inner_edge_km(share) == pytest.approx(1500.0)
    assert on_air_skip.inner_edge_km(np.full(7, 0.5)) == on_air_skip.CLASS_KM
    assert np.isnan(on_air_skip.inner_edge_km(0.05 * share))


def test_a_class_opens_before_its_best_hour_and_closes_after_it():
    share = np.zeros(24)
    share[[22, 23, 0, 1]] = 1.0
    opens, closes = on_air_skip.main_turns_h(share)
    assert (opens, closes) == (pytest.approx(22.0), pytest.approx(2.0))


def test_hours_of_the_skip_are_those_of_a_clock_in_hungary(tmp_path):
    """9 o'clock UTC in June as well as in December: 7 and 8 by the seconds."""
    path = tmp_path / "counts.gz"
    seconds = (np.datetime64(f"2025-06-25T{h:02d}", "s").astype(int) for h in (7, 8))
    winter = np.datetime64("2024-12-25T08", "s").astype(int)
    with gzip.open(path, "wt") as file:
        file.writelines(f"{each};1;2;\n" for each in (*seconds, winter))
    _, hours, _, counts = on_air_skip.counts(path)
    assert hours.tolist() == [9, 10, 9]
    assert counts.tolist() == [[1.0, 2.0]] * 3


def test_bins_hold_means_and_counts():
    pairs = np.array([[0.05, 0.0], [0.15, 1.0], [1.0, 1.0]])
    bins = on_air.binned(pairs)
    assert bins[0] == [2, 0.1, 0.5]
    assert bins[1] == [0, None, None]
    assert bins[4] == [1, 1.0, 1.0]
