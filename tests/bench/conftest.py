"""
One table of ratios: each job beside a yardstick of plain work in the same run.

`pytest -m bench` prints the ratios, each beside the recorded one, and at the end those
that are over their aims. Machines differ, so that a ratio fails nothing by itself, but
with ``--guard-ratios``. With ``--record-ratios`` they are written to ``ratios.csv`` and
into docs/performance.md.
"""

import csv
import resource
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from advisor.propagation import kept

SLACK = 1.3
TRIES = 2
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


@pytest.fixture(autouse=True)
def nothing_in_memory(monkeypatch):
    """What is measured again is worked out again."""
    monkeypatch.setattr(kept, "MOST_EACH_BYTES", -1)


@pytest.fixture
def page_and_rows():
    """Text between the marks of the page, and what the recorded ratios make it."""
    text = PAGE.read_text(encoding="utf-8").split(BEGIN)[1].split(END)[0]
    with RECORDED.open(encoding="utf-8", newline="") as lines:
        return text.strip(), table(list(csv.DictReader(lines)))


@pytest.fixture
def ratio(aim, capsys):
    """
    Give a function that measures a job beside another and compares.

    ``ratio(name, job, what, most=inf, beside=yardstick, children=False, repeat=3)``
    returns time of the job over time of what is beside it; with ``children`` that of
    the processes they start. It should be at most `SLACK` times the recorded one, and
    at most ``most``.
    """

    def measure(
        name, job, what, *, most=np.inf, beside=yardstick, children=False, repeat=3
    ):
        clock = children_s if children else own_s
        known = recorded().get(name, np.inf)
        found, seconds = np.inf, np.nan
        for _ in range(TRIES):
            other = least_s(beside, clock, repeat)
            seconds = least_s(job, clock, repeat)
            other = min(other, least_s(beside, clock, repeat))
            found = min(found, seconds / other)
            if found <= SLACK * known:
                break
        MEASURED[name] = (what, found)
        then = f" (recorded {known:.3g})" if np.isfinite(known) else ""
        with capsys.disabled():
            print(f"\n{name}: {found:.3g}{then}, {what}; {seconds:.3f} s", end="")
        aim(name, found, min(SLACK * known, most))
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
