"""The page of outside checks is made from the records; the recorder of them."""

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "validation.md"
STUDIES = ROOT / "docs" / "studies"

# Both were loaded by conftest.py, or are loaded here, under their own names.
sys.path.insert(0, str(STUDIES))
try:
    import build_validation
    import how_wrong
finally:
    sys.path.remove(str(STUDIES))
records = build_validation.helper()


def test_the_page_is_made_of_the_records():
    """Run docs/studies/build_validation.py if this fails."""
    page = PAGE.read_text(encoding="utf-8")
    kept = records.read_records()
    made = build_validation.table(kept)
    begin = page.index(build_validation.BEGIN)
    end = page.index(build_validation.END) + len(build_validation.END)
    assert page[begin:end] == made
    assert build_validation.put_in(page, made) == page
    for column in ("what", "source", "status"):
        assert all(
            r[column] for c in kept.values() for made in c.values() for r in made
        )


def test_every_record_is_of_a_test_that_still_records():
    for test in records.read_records():
        assert test.partition("::")[2] in build_validation.functions(test), test


def test_every_record_is_of_a_case_that_is_run(recording):
    """Of every file that is collected: cases that record, against cases recorded."""
    files = {test.partition("::")[0] for test, _ in recording}
    kept = records.read_records()
    assert recording == {
        (test, case)
        for test, cases in kept.items()
        if test.partition("::")[0] in files
        for case in cases
    }


@pytest.mark.long
def test_the_table_of_what_is_not_known_is_up_to_date():
    """Run docs/studies/how_wrong.py --write if this fails."""
    page = PAGE.read_text(encoding="utf-8")
    begin = page.index(how_wrong.BEGIN)
    end = page.index(how_wrong.END) + len(how_wrong.END)
    kept, drawn = how_wrong.read(), how_wrong.draws()
    assert len(kept) == len(drawn) == how_wrong.DRAWS
    shown, made = page[begin:end], how_wrong.table(kept)
    number = re.compile(r"\d+\.\d")
    assert number.sub("#", shown) == number.sub("#", made)
    for before, now in zip(number.findall(shown), number.findall(made), strict=True):
        assert float(now) == pytest.approx(float(before), abs=0.101)
    # A hundred draws take minutes: two stand for all, as the table does for the rest.
    asks = how_wrong.asks_of(how_wrong.questions())
    for n in range(0, how_wrong.DRAWS, 50):
        now = how_wrong.every(asks, drawn[n])
        for one, other in zip(now, kept[n], strict=True):
            assert one == pytest.approx(other, abs=0.101)


# --- the recorder -----------------------------------------------------------------


def recorder(kept=None):
    return records.Outside("tests/test_x.py::test_y", "", kept)


def made_by(check):
    """What one check leaves."""
    first = recorder()
    check(first("a source", "from memory"))
    return first.made


def near(value=1.004, expected=1.0, room=0.01, why="why"):
    return lambda check: check.near("what", value, expected, abs=room, why=why)


def test_a_check_fails_beyond_its_tolerance_and_not_within():
    (made,) = made_by(near())
    assert (made["expected"], made["ours"], made["share"]) == (1.0, 1.004, 0.4)
    for value in (1.011, 0.98, np.nan, np.inf):
        with pytest.raises(AssertionError, match="what: ours"):
            made_by(near(value))
    with pytest.raises(AssertionError, match="2 of 3 values are off"):
        made_by(near([1.0, 1.02, np.nan]))
    with pytest.raises(AssertionError, match="nothing to compare"):
        made_by(near([]))
    with pytest.raises(AssertionError, match="no tolerance"):
        made_by(near(1.0, 1.0, 0.0))
    with pytest.raises(AssertionError, match="is none of"):
        recorder()("a source", "hearsay")


def test_relative_and_absolute_tolerances_are_those_of_pytest():
    """The greater of the two counts, as with pytest.approx."""
    dice = np.random.default_rng(3)
    for _ in range(300):
        expected, rel, room = (
            dice.normal(0, 5),
            dice.uniform(0, 0.1),
            dice.uniform(0, 1),
        )
        ours = expected + dice.normal(0, 0.5)
        try:
            recorder()("s", "from memory").near(
                "w", ours, expected, abs=room, rel=rel, why="y"
            )
            passed = True
        except AssertionError:
            passed = False
        assert passed == (ours == pytest.approx(expected, abs=room, rel=rel))


def test_the_worst_value_is_the_one_kept():
    (made,) = made_by(near([1.001, 0.992, 1.0], [1.0, 1.0, 1.0]))
    assert (made["n"], made["at"], made["ours"], made["share"]) == (3, 1, 0.992, 0.8)
    (made,) = made_by(near(2.0 - 1.0j, 2.0 - 1.005j))
    assert made["ours"] == [2.0, -1.0]
    assert records.text(made["expected"]) == "2 - j1.005"


def test_ranges_facts_and_equality_fail_when_they_should():
    made_by(lambda c: c.between("w", [1.1, 1.9], 1.0, 2.0))
    for wrong in (
        lambda c: c.between("w", [1.1, 2.0], 1.0, 2.0),
        lambda c: c.between("w", [0.9], low=1.0),
        lambda c: c.between("w", [np.nan], high=1.0),
        lambda c: c.between("w", [1.0]),
        lambda c: c.between("w", [], high=1.0),
        lambda c: c.equal("w", (1, 2), (1, 3)),
        lambda c: c.equal("w", np.arange(3), np.array([0, 1, 3])),
        lambda c: c.equal("w", np.arange(3), np.arange(4)),
        lambda c: c.holds("w", [True, False], "so"),
        lambda c: c.holds("w", [], "so"),
        lambda c: c.holds("w", 1.0, "so"),
    ):
        with pytest.raises(AssertionError):
            made_by(wrong)


@pytest.mark.parametrize(
    "changed",
    [
        near(1.005),  # a tenth of the tolerance
        near(1.004, room=0.02),
        near(1.004, why="another reason"),
        near([1.004, 1.0]),
        near(1.0045, 1.0005),  # the expected value moved
        lambda check: check.near("other", 1.004, 1.0, abs=0.01, why="why"),
        lambda check: check.between("what", 1.004, 0.9, 1.1),
    ],
)
def test_whatever_moves_is_noticed(changed):
    kept = made_by(near())
    again = recorder(kept)
    near()(again("a source", "from memory"))
    again.finish()
    with pytest.raises(AssertionError, match="not up to date"):
        changed(recorder(kept)("a source", "from memory"))
    with pytest.raises(AssertionError, match="source was 'a source', is 'another'"):
        near()(recorder(kept)("another", "from memory"))


def test_rounding_of_the_machine_is_not_noticed():
    values = np.array([1.0, 1.002, 0.998])
    kept = made_by(near(values))
    for noise in (1e-9, -1e-9, np.array([0.0, -1e-12, 1e-12])):
        near(values + noise)(recorder(kept)("a source", "from memory"))


def test_a_check_left_out_and_a_test_without_any_are_noticed():
    kept = made_by(near())
    with pytest.raises(AssertionError, match="makes no record"):
        recorder(kept).finish()
    both = recorder()
    for what in ("one", "two"):
        both("s", "quoted").equal(what, 1, 1)
    one = recorder(both.made)
    one("s", "quoted").equal("one", 1, 1)
    with pytest.raises(AssertionError, match=r"no longer checked: \['two'\]"):
        one.finish()
    with pytest.raises(AssertionError, match="is not among the records"):
        near()(recorder([])("a source", "from memory"))


def test_records_come_back_as_they_were_written(tmp_path):
    test = recorder()
    check = test("a source", "quoted")
    check.near("w", 1.0 + 2.0j, 1.0 + 2.001j, abs=0.01, why="y")
    check.between("x", [0.2, 0.3], 0.1, 0.4)
    check.equal("x", "ü|", "ü|")
    written = {"tests/test_x.py::test_y": {"": test.made, "2": test.made}}
    records.write_records(written, tmp_path / "records.json")
    assert records.read_records(tmp_path / "records.json") == written
    assert records.read_records(tmp_path / "none.json") == {}
    again = recorder(records.read_records(tmp_path / "records.json")[test.test]["2"])
    check = again("a source", "quoted")
    check.near("w", 1.0 + 2.0j, 1.0 + 2.001j, abs=0.01, why="y")
    check.between("x", [0.2, 0.3], 0.1, 0.4)
    check.equal("x", "ü|", "ü|")
    again.finish()


@pytest.mark.slow
def test_several_processes_cannot_write():
    """With pytest-xdist each of them would know only a part."""
    words = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-n", "2"]
    pytest.importorskip("xdist")
    found = subprocess.run(
        [*words, "--write-validation", "tests/test_validation.py"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 4
    assert "--write-validation wants one process" in found.stderr
