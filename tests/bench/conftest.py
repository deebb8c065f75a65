"""
One table of ratios: each job beside a yardstick of plain work in the same run.

`pytest -m bench` prints the table. With ``--record-ratios`` it is written to
``ratios.csv`` and into docs/performance.md; with ``SKIPLOBE_BENCH=guard`` in the
environment a ratio that is over the recorded one by more than `SLACK` fails.
"""

import csv
import os
import resource
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest

SLACK = 1.3
TRIES = 5
HERE = Path(__file__).parent
RECORDED = HERE / "ratios.csv"
PAGE = HERE.parents[1] / "docs" / "performance.md"
BEGIN, END = "<!-- ratios -->", "<!-- end of ratios -->"
MEASURED: dict[str, tuple[str, float]] = {}


def own_s() -> float:
    """Processor time of this process: other work on the machine hardly adds to it."""
    return time.process_time()


def children_s() -> float:
    """Processor time of the processes this one has started and waited for."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@cache
def _room() -> tuple[np.ndarray, ...]:
    """Arrays of the yardstick, made once: fresh memory costs as much as the work."""
    dice = np.random.default_rng(4)
    values = dice.random(40_000)
    places = dice.integers(0, values.size, values.size)
    turned = np.exp(6j * values)
    return values, places, turned, np.empty_like(values), np.empty_like(turned)


def yardstick() -> float:
    """
    Work of the kinds that the jobs are made of, about 0.1 s.

    Exponentials, complex products, gathers, sums and many small calls; neither BLAS,
    whose threads wait, nor sorts, which are several times as fast on some processors.
    """
    values, places, turned, real, other = _room()
    small = np.arange(8.0)
    for _ in range(60):
        np.exp(values, out=real)
        np.log(real, out=real)
        for _ in range(2):
            np.multiply(turned, turned, out=other)
            np.divide(other, turned, out=other)
            np.take(values, places, out=real)
            np.cumsum(real, out=real)
        for _ in range(100):
            small = np.minimum(small + 1.0, 8.0)
    return float(real[-1] + small.sum() + abs(other[-1]))


def least_s(job, clock, repeat):
    """Least time of a few runs."""
    spent = []
    for _ in range(repeat):
        start = clock()
        job()
        spent.append(clock() - start)
    return min(spent)


def recorded() -> dict[str, float]:
    """Ratios as recorded, by name."""
    with RECORDED.open(encoding="utf-8", newline="") as lines:
        return {row["name"]: float(row["ratio"]) for row in csv.DictReader(lines)}


def table(rows: list[dict[str, str]]) -> str:
    """Rows of the page."""
    lines = ["| job | ratio | of what to what |", "|---|---|---|"]
    lines += [f"| {row['name']} | {row['ratio']} | {row['what']} |" for row in rows]
    return "\n".join(lines)


@pytest.fixture
def page_and_rows():
    """Text between the marks of the page, and what the recorded ratios make it."""
    text = PAGE.read_text(encoding="utf-8").split(BEGIN)[1].split(END)[0]
    with RECORDED.open(encoding="utf-8", newline="") as lines:
        return text.strip(), table(list(csv.DictReader(lines)))


@pytest.fixture
def ratio(capsys):
    """
    Give a function that measures a job beside another and checks it.

    ``ratio(name, job, what, beside=yardstick, children=False, repeat=3)`` returns
    time of the job over time of what is beside it; with ``children`` that of the
    processes they start.
    """

    def measure(name, job, what, *, beside=yardstick, children=False, repeat=3):
        clock = children_s if children else own_s
        known = recorded().get(name) if RECORDED.exists() else None
        guarded = os.environ.get("SKIPLOBE_BENCH") == "guard" and known is not None
        found, seconds = np.inf, np.nan
        for _ in range(TRIES if guarded else 1):
            other = least_s(beside, clock, repeat)
            seconds = least_s(job, clock, repeat)
            other = min(other, least_s(beside, clock, repeat))
            found = min(found, seconds / other)
            if not guarded or found <= SLACK * known:
                break
        MEASURED[name] = (what, found)
        then = "" if known is None else f" (recorded {known:.3g})"
        with capsys.disabled():
            print(f"\n{name}: {found:.3g}{then}, {what}; {seconds:.3f} s", end="")
        if guarded:
            assert found <= SLACK * known, f"{name}: {found:.3g}, recorded {known:.3g}"
        return found

    return measure


def pytest_addoption(parser):
    """Add the option that records."""
    parser.addoption(
        "--record-ratios",
        action="store_true",
        help="write the measured ratios to tests/bench/ratios.csv and the docs",
    )


def pytest_sessionfinish(session):
    """Write what was measured."""
    if not (session.config.getoption("--record-ratios", default=False) and MEASURED):
        return
    with RECORDED.open("w", encoding="utf-8", newline="") as lines:
        writer = csv.writer(lines, lineterminator="\n")
        writer.writerow(["name", "ratio", "what"])
        for name in sorted(MEASURED):
            what, found = MEASURED[name]
            writer.writerow([name, f"{found:.3g}", what])
    with RECORDED.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    page = PAGE.read_text(encoding="utf-8")
    before, rest = page.split(BEGIN)
    after = rest.split(END)[1]
    text = f"{before}{BEGIN}\n{table(rows)}\n{END}{after}"
    PAGE.write_text(text, encoding="utf-8")
