"""How many random questions to ask, and the count of what came of them."""

import os
from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, settings

SHORT = 100
"""Inputs tried in an ordinary run, all tests of this directory together."""

TRIED: Counter = Counter()


def pytest_addoption(parser):
    """``pytest tests/fuzz --fuzz-examples 20000`` for a long run."""
    parser.addoption("--fuzz-examples", type=int, help="random inputs to try in all")


def _examples(config) -> int:
    asked = config.getoption("fuzz_examples", default=None)
    return int(asked or os.environ.get("SKIPLOBE_FUZZ_EXAMPLES") or SHORT)


@pytest.fixture(scope="session")
def portion(pytestconfig):
    """Settings for a share of all inputs; a long run draws anew, a short one never."""
    total = _examples(pytestconfig)

    def of(share: float) -> settings:
        return settings(
            max_examples=max(1, round(share * total)),
            deadline=None,
            derandomize=total == SHORT,
            database=None,
            print_blob=True,
            phases=[Phase.generate, Phase.shrink],
            suppress_health_check=list(HealthCheck),
        )

    return of


@pytest.fixture(autouse=True)
def nothing_goes_out(no_network):
    """Whatever is drawn."""


@pytest.fixture(scope="session")
def tally():
    """Count inputs: ``tally["station file", "refused"] += 1``."""
    return TRIED


def pytest_terminal_summary(terminalreporter):
    """Print the counts."""
    if not TRIED:
        return
    kinds = sorted({kind for kind, _ in TRIED})
    for kind in kinds:
        answered, refused = TRIED[kind, "answered"], TRIED[kind, "refused"]
        terminalreporter.write_line(
            f"fuzz: {answered + refused} {kind}: {answered} answered, "
            f"{refused} refused in one line"
        )
    total = sum(TRIED.values())
    refused = sum(n for (_, what), n in TRIED.items() if what == "refused")
    terminalreporter.write_line(
        f"fuzz: {total} inputs, {total - refused} answered, {refused} refused"
    )
