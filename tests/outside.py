"""
Checks against something outside the project, and the record each of them leaves.

A test takes the fixture ``outside``, names source and status once and checks::

    def test_free_space(outside):
        check = outside("ITU-R P.525-4", "quoted")
        check.near("loss over 1234 km [dB]", ours, 117.26, abs=0.01, why="printed so")

Each call asserts, and leaves a record that must agree with the one kept in
``docs/validation_records.json``; docs/validation.md shows them as one table. A test
that is gone, a test that leaves no record, a check that is left out or a figure that
moved by more than a twentieth of its tolerance fails. After a change on purpose run
``python docs/studies/build_validation.py`` and read the difference.
"""

import json
import math
from collections import Counter
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
RECORDS = ROOT / "docs" / "validation_records.json"

# What a row of each status is worth.
STATUSES = {
    "page at hand": "text, table, file or code of the source was open",
    "quoted": "taken from an open text or program that quotes the source",
    "from memory": "written down from memory of the source, page not compared",
    "second library": "worked out by a general library or data set of other people",
    "worked apart": "worked out a second time without the program's code",
    "common practice, no source": "a rule of thumb of the trade",
    "our own figure": "held fixed where we differ from what is said",
}

# How far a figure may move against its record, in tolerances (or widths of a range).
DRIFT = 0.05


def decimals_for(tolerance):
    """Decimals that show a hundredth of the tolerance or less."""
    if not 0.0 < tolerance < math.inf:
        return 12
    return int(np.clip(math.ceil(-math.log10(tolerance)) + 2, 0, 14))


def plain(value, decimals):
    """A number as JSON keeps it: rounded; complex as two; not finite as text."""
    if isinstance(value, complex):
        return [plain(value.real, decimals), plain(value.imag, decimals)]
    if not math.isfinite(value):
        return str(value)
    # Adding zero makes -0.0 the zero it is.
    return round(value, decimals) + 0.0


def number(kept):
    """The number again, from what JSON kept."""
    if isinstance(kept, list):
        return complex(*kept)
    return float(kept)


def text(kept):
    """A kept number as the page shows it, at most seven digits."""
    if isinstance(kept, list):
        real, imaginary = kept
        sign = "-" if imaginary < 0 else "+"
        return f"{text(real)} {sign} j{text(abs(imaginary))}"
    if isinstance(kept, str):
        return kept
    shown = f"{kept:.7g}"
    return shown if "e" not in shown or abs(kept) < 1e-4 else f"{kept:.0f}"


def share_text(part):
    """A relative tolerance: per cent where that reads well."""
    return f"{text(100.0 * part)} %" if part >= 1e-4 else f"{part:g} of it"


class Outside:
    """The fixture: gathers the records of one test case."""

    def __init__(self, test, case, kept):
        """``test`` is file and function, ``kept`` the case's records or None."""
        self.test, self.case, self.kept = test, case, kept
        self.made = []
        self._count = Counter()

    def __call__(self, source, status):
        """Name source (with section, table or page) and status of what follows."""
        assert status in STATUSES, f"{status!r} is none of {', '.join(STATUSES)}"
        return Check(self, source, status)

    def add(self, record):
        """Keep a record and hold it against the one kept before."""
        what = record["what"]
        self._count[what] += 1
        record["nth"] = self._count[what]
        self.made.append(record)
        if self.kept is None:
            return
        before = [k for k in self.kept if k["what"] == what]
        before = [k for k in before if k["nth"] == record["nth"]]
        assert before, self._stale(f"{what!r} is not among the records")
        for key in ("source", "status", "tolerance", "why", "kind", "n", "expected"):
            if key == "expected" and record["kind"] == "near":
                continue
            assert before[0].get(key) == record.get(key), self._stale(
                f"{what!r}: {key} was {before[0].get(key)!r}, is {record.get(key)!r}"
            )

    def finish(self):
        """Ask that nothing kept was left out; called when the test has passed."""
        assert self.made, f"{self.test}[{self.case}] makes no record"
        if self.kept is not None:
            made = {(r["what"], r["nth"]) for r in self.made}
            gone = [k["what"] for k in self.kept if (k["what"], k["nth"]) not in made]
            assert not gone, self._stale(f"no longer checked: {gone}")

    def same(self, what, before, now, room):
        """Ask that a figure has not moved by more than ``room``."""
        if self.kept is not None and before != now:
            moved = abs(number(before) - number(now))
            assert moved <= room, self._stale(f"{what!r} was {before}, is {now}")

    def before(self, what):
        """The kept record of the check about to be made, or None."""
        nth = self._count[what] + 1
        for each in self.kept or ():
            if (each["what"], each["nth"]) == (what, nth):
                return each
        return None

    def _stale(self, words):
        return (
            f"docs/validation.md is not up to date: {self.test}[{self.case}]: {words}"
        )


class Check:
    """Checks of one source: assert, then record."""

    def __init__(self, outside, source, status):
        """Made by calling the fixture."""
        self._outside, self._named = outside, {"source": source, "status": status}

    def _record(self, what, kind, **more):
        self._outside.add({"what": what, "kind": kind, **self._named, **more})

    def near(self, what, ours, expected, *, abs=None, rel=None, why):
        """
        Ask for ``|ours - expected| <= max(abs, rel * |expected|)`` everywhere.

        ``why`` says where the tolerance is from. The record holds how many values
        there were and the one that is furthest off for its tolerance.
        """
        one, other = np.broadcast_arrays(np.asarray(ours), np.asarray(expected))
        one, other = one.ravel(), other.ravel()
        assert one.size, f"{what}: nothing to compare"
        room = np.zeros(one.size)
        if abs is not None:
            room = np.maximum(room, abs)
        if rel is not None:
            # Next to nothing is left where nothing is expected.
            room = np.maximum(np.maximum(room, rel * np.abs(other)), 1e-12)
        assert (room > 0.0).all(), f"{what}: no tolerance"
        apart = np.where(one == other, 0.0, np.abs(one - other))
        off = np.flatnonzero(~(apart <= room))
        assert not off.size, (
            f"{what}: ours {one[off[0]]}, expected {other[off[0]]} within "
            f"{room[off[0]]:.3g}; {off.size} of {one.size} values are off"
        )
        # Rounded, so that noise in the last digits does not choose the worst value.
        share = np.round(apart / room, 2)
        at = int(np.argmax(share))
        before = self._outside.before(what)
        if before is not None and before["kind"] == "near" and before["n"] == one.size:
            parts = f"{what}, worst difference over its tolerance"
            self._outside.same(parts, before["share"], float(share[at]), DRIFT)
            kept_at = before["at"]
            digits = decimals_for(room[kept_at])
            for key, values in (("ours", one), ("expected", other)):
                now = plain(values[kept_at].item(), digits)
                slack = DRIFT * room[kept_at] if key == "ours" else 0.0
                self._outside.same(what, before[key], now, slack + 10.0**-digits)
        digits = decimals_for(room[at])
        parts = [] if abs is None else [f"{abs:.3g}"]
        parts += [] if rel is None else [share_text(rel)]
        self._record(
            what,
            "near",
            why=why,
            tolerance=" or ".join(parts),
            n=int(one.size),
            at=at,
            share=float(share[at]),
            expected=plain(other[at].item(), digits),
            ours=plain(one[at].item(), digits),
        )

    def between(self, what, ours, low=-math.inf, high=math.inf, *, why="the range"):
        """Ask for ``low < ours < high`` everywhere; either bound may be left out."""
        values = np.asarray(ours, dtype=float).ravel()
        assert values.size, f"{what}: nothing to compare"
        assert math.isfinite(low) or math.isfinite(high), f"{what}: no bound"
        least, most = float(values.min()), float(values.max())
        assert low < least, f"{what}: ours {least}, asked over {low}"
        assert most < high, f"{what}: ours {most}, asked under {high}"
        ends = [math.fabs(end) for end in (low, high) if math.isfinite(end)]
        width = high - low if len(ends) == 2 else max(*ends, most - least) or 1.0
        digits = decimals_for(width)
        ends = [plain(least, digits), plain(most, digits)]
        before = self._outside.before(what)
        if before is not None and before["kind"] == "between":
            for old, new in zip(before["ours"], ends, strict=True):
                self._outside.same(what, old, new, DRIFT * width + 10.0**-digits)
        if len([b for b in (low, high) if math.isfinite(b)]) == 2:
            expected = f"{low:g} to {high:g}"
        else:
            expected = f"over {low:g}" if math.isfinite(low) else f"under {high:g}"
        self._record(
            what, "between", why=why, tolerance="", n=values.size, expected=expected,
            ours=ends,
        )  # fmt: skip

    def equal(self, what, ours, expected, *, shown=None):
        """Ask for equality: counts, names, sets, arrays; ``shown`` words the page."""
        if isinstance(ours, np.ndarray) or isinstance(expected, np.ndarray):
            one, other = np.asarray(ours), np.asarray(expected)
            assert one.shape == other.shape, f"{what}: {one.shape}, {other.shape}"
            off = np.flatnonzero((one != other).ravel())
            assert not off.size, f"{what}: {off.size} of {one.size} values differ"
            size, shown = one.size, shown or f"{one.size} values"
        else:
            assert ours == expected, f"{what}: ours {ours!r}, expected {expected!r}"
            size = 1 if isinstance(ours, str) or not hasattr(ours, "__len__") else (
                len(ours)
            )  # fmt: skip
            if shown is None:
                word = expected if isinstance(expected, str) else f"{expected!r}"
                shown = word if len(word) < 60 else f"{size} values"
        self._record(
            what, "equal", why="", tolerance="exact", n=size, expected=str(shown),
            ours="equal",
        )  # fmt: skip

    def holds(self, what, fact, expected):
        """Ask for a fact that is no number: an order, a place, a shape."""
        truths = np.asarray(fact)
        assert truths.size, f"{what}: nothing to compare"
        assert truths.dtype == bool, f"{what}: {truths.dtype} is no truth"
        assert truths.all(), f"{what}: not so: {expected}"
        self._record(
            what, "holds", why="", tolerance="", n=truths.size, expected=expected,
            ours="so",
        )  # fmt: skip


# What is the same in every case of a test, and what each case has of its own.
COMMON = ("what", "source", "status", "kind", "tolerance", "why")
OWN = ("nth", "n", "at", "share", "expected", "ours")


def read_records(path=RECORDS):
    """Every kept record: test to case to list of records."""
    if not path.exists():
        return {}
    packed = json.loads(path.read_text(encoding="utf-8"))
    return {
        test: {
            case: [
                dict(zip(COMMON, each["checks"][which], strict=True))
                | {k: v for k, v in zip(OWN, own, strict=True) if v is not None}
                for which, *own in made
            ]
            for case, made in each["cases"].items()
        }
        for test, each in packed.items()
    }


def write_records(records, path=RECORDS):
    """Write the records: the checks of a test once, then a line for every case."""

    def words(value):
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    tests = []
    for test in sorted(records):
        checks, cases = [], []
        for case, made in records[test].items():
            rows = []
            for record in made:
                common = [record[key] for key in COMMON]
                if common not in checks:
                    checks.append(common)
                own = [record.get(key) for key in OWN]
                rows.append([checks.index(common), *own])
            cases.append(f"   {words(case)}: {words(rows)}")
        listed = ",\n".join(f"   {words(each)}" for each in checks)
        body = ",\n".join(cases)
        tests.append(
            f' {words(test)}: {{\n  "checks": [\n{listed}],\n  "cases": {{\n{body}}}}}'
        )
    path.write_text("{\n" + ",\n".join(tests) + "\n}\n", encoding="utf-8")
