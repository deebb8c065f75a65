"""The mutation check itself: it finds slips, and says what is not noticed."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
STUDIES = ROOT / "docs" / "studies"

sys.path.insert(0, str(STUDIES))
try:
    import mutation
finally:
    sys.path.remove(str(STUDIES))


def slips(source):
    """Every slip, as source again, without repeats."""
    return {ast.unparse(module) for _, _, module in mutation.slips_of(source)}


def test_a_line_is_changed_in_every_way_but_one_at_a_time():
    made = slips("x = a + 2.0 * b")
    assert made == {
        "x = a - 2.0 * b",
        "x = a + 2.0 / b",
        "x = a + 3.0 * b",
        "x = a + -2.0 * b",
        "x = a + 4.0 * b",
    }
    assert slips("y = a < b") == {"y = a <= b", "y = a >= b"}
    assert slips("y = np.minimum(a, b)") == {
        "y = np.maximum(a, b)",
        "y = a",
        "y = b",
    }
    assert "y = np.clip(a, None, c)" in slips("y = np.clip(a, b, c)")
    assert slips("if a:\n    raise E") == {
        "if not a:\n    raise E",
        "if a:\n    pass",
    }


def test_words_and_annotations_are_left_alone():
    source = (
        'def f(a: Array[1]) -> List[2]:\n    """Say 3."""\n    raise E(f"{a:4.1f}")'
    )
    assert slips(source) == {source.replace('raise E(f"{a:4.1f}")', "pass")}


def test_the_modules_and_tests_it_names_are_there():
    for path, tests in mutation.TESTS.items():
        assert all((ROOT / each).is_file() for each in (path, *tests))
    shortest = min(mutation.TESTS, key=lambda path: (ROOT / path).stat().st_size)
    assert mutation.slips_of((ROOT / shortest).read_text(encoding="utf-8"))


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="runs are forked")
def test_a_slip_is_noticed_and_a_change_without_effect_is_not():
    """The sign of what is squared has no effect; twice its size has."""
    source = (ROOT / "geo/hops.py").read_text(encoding="utf-8")
    found = [what for _, what, _ in mutation.slips_of(source)]
    squared = found.index("4.0  ->  -4.0   in  4.0 * EARTH_RADIUS_KM")
    doubled = found.index("4.0  ->  8.0   in  4.0 * EARTH_RADIUS_KM")
    script = [sys.executable, str(STUDIES / "mutation.py"), "geo/hops.py"]
    done = subprocess.run(
        [*script, "--only", str(squared), str(doubled)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert f"not noticed, number {squared}: 4.0  ->  -4.0" in done.stdout
    assert f"not noticed, number {doubled}" not in done.stdout
    assert "2 tried, 1 noticed (50 %)" in done.stdout
