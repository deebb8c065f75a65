"""What every test shares: a cache of its own, and records of outside checks."""

import importlib.util
import os
import socket
import sys
from pathlib import Path

# As the command line does, and before numpy is loaded: on two cores two processes of
# tests would each start two threads, which mostly wait for each other.
for library in ("OPENBLAS", "MKL", "OMP"):
    os.environ[f"{library}_NUM_THREADS"] = "1"
# Half of a cold start is compiling: what a test starts finds it done.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

import numpy as np  # noqa: E402
import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

# How long an example takes is the machine's matter; CI draws the same ones every time.
settings.register_profile(
    "house", deadline=None, derandomize="CI" in os.environ, print_blob=True
)
settings.register_profile("quick", settings.get_profile("house"), max_examples=20)
settings.load_profile("house")

HERE = Path(__file__).resolve().parent
STUDIES = HERE.parent / "docs" / "studies"


def load(path):
    """Load a file as a module of its stem, once."""
    if path.stem not in sys.modules:
        spec = importlib.util.spec_from_file_location(path.stem, path)
        module = importlib.util.module_from_spec(spec)
        sys.modules[path.stem] = module
        spec.loader.exec_module(module)
    return sys.modules[path.stem]


@pytest.fixture(scope="session")
def lobe_deg():
    """Elevation of a pattern's strongest lobe on a bearing, between whole degrees."""

    def found(pattern, azimuth_deg):
        cut = pattern.gain(pattern.elevation_deg, azimuth_deg)
        # Of lobes within 0.1 dB the lowest, by a parabola through three points.
        top = int(np.argmax(cut >= cut.max() * 10.0**-0.01))
        while top + 1 < cut.size and cut[top + 1] > cut[top]:
            top += 1
        if top in (0, cut.size - 1):
            return float(pattern.elevation_deg[top])
        left, middle, right = cut[top - 1 : top + 2]
        shift = 0.5 * (left - right) / (left - 2.0 * middle + right)
        return float(pattern.elevation_deg[top] + shift * pattern.elevation_deg[1])

    return found


records = load(HERE / "outside.py")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory):
    """One cache for the whole run: what one process solved all of them read."""
    base = tmp_path_factory.getbasetemp()
    run = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SKIPLOBE_CACHE_DIR", str(run / "shared-cache"))
        # The tester's screen is no part of an answer.
        patch.delenv("COLUMNS", raising=False)
        yield


@pytest.fixture
def no_network(monkeypatch):
    """Nothing goes out."""

    def shut(*_, **__):
        raise AssertionError("something reached for the network")

    # A class, for others are made from it.
    monkeypatch.setattr(
        socket, "socket", type("Shut", (socket.socket,), {"__init__": shut})
    )
    for name in ("create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, shut)


@pytest.fixture(scope="module")
def answers_once(request):
    """Of a question that is asked again in a process one answer."""
    from tests.once import put_in

    with pytest.MonkeyPatch.context() as patch:
        put_in(patch, request.module)
        yield


@pytest.fixture(scope="module")
def coarse_world():
    """Maps of the world with a third of the rays, where the map is not in question."""
    from tests import once

    with pytest.MonkeyPatch.context() as patch:
        once.coarse_world(patch)
        yield


# --- speed, which is the machine's too ------------------------------------------------

OVER: list[str] = []


@pytest.fixture
def aim(request):
    """Give ``aim(what, found, most)``: notes what is over, and fails it if asked to."""

    def check(what, found, most):
        if found > most:
            OVER.append(f"{what}: {found:.3g}, at most {most:.3g} is the aim")
            if request.config.getoption("guard_ratios"):
                pytest.fail(OVER[-1])

    return check


def pytest_terminal_summary(terminalreporter):
    """List what is over its aim."""
    for line in OVER:
        terminalreporter.write_line(f"OVER {line}")


# --- records of the checks against something outside (see outside.py) -----------------


def pytest_addoption(parser):
    """Add the options that fail what is slow, and that write the records anew."""
    parser.addoption(
        "--guard-ratios", action="store_true", help="fail benchmarks over their aims"
    )
    parser.addoption(
        "--write-validation",
        action="store_true",
        help="run the checks against outside sources only; rewrite their records",
    )


def pytest_configure(config):
    """Draw fewer examples in the quick tier; gather records in one process only."""
    if config.option.markexpr == "not slow":
        settings.load_profile("quick")
    if not config.getoption("--write-validation", False):
        return
    if config.getoption("numprocesses", None):
        raise pytest.UsageError("--write-validation wants one process: leave out -n")
    config.stash[WRITTEN] = {}


WRITTEN = pytest.StashKey[dict]()
KEPT = pytest.StashKey[dict]()
RECORDING = pytest.StashKey[set]()


def writing(config):
    """Whether this run writes records instead of comparing them."""
    return WRITTEN in config.stash


def names_of(item):
    """File and function of a test, and its case, as the records name them."""
    path = item.path.relative_to(HERE.parent).as_posix()
    callspec = getattr(item, "callspec", None)
    return f"{path}::{item.originalname}", callspec.id if callspec else ""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Hand out tests in the order of the files: what they share is made once."""
    from xdist.scheduler import WorkStealingScheduling

    is_default = config.getoption("dist") == "load"
    return WorkStealingScheduling(config, log) if is_default else None


def pytest_itemcollected(item):
    """Keep what is measured, browsed or drawn at random out of the quick tier."""
    if any(
        item.get_closest_marker(name) for name in ("bench", "browser", "fuzz", "long")
    ):
        item.add_marker("slow")


@pytest.hookimpl(wrapper=True)
def pytest_collection_modifyitems(config, items):
    """
    Start with what takes longest, so that no process does it alone at the end.

    When records are written, run nothing that makes none. Note before anything is left
    out what would make records.
    """
    made = [i for i in items if "outside" in getattr(i, "fixturenames", ())]
    config.stash[RECORDING] = {names_of(item) for item in made}
    yield
    items.sort(key=lambda item: item.get_closest_marker("long") is None)
    if writing(config):
        chosen = [i for i in items if i in made]
        config.hook.pytest_deselected(items=[i for i in items if i not in made])
        items[:] = chosen


@pytest.fixture(scope="session")
def recording(pytestconfig):
    """Names and cases of collected tests that make records, left out or not."""
    if any("::" in word for word in pytestconfig.args):
        pytest.skip("only whole files tell which of their tests make records")
    return pytestconfig.stash[RECORDING]


@pytest.fixture
def outside(request):
    """Check against something outside the project, and record it."""
    config = request.config
    test, case = names_of(request.node)
    if writing(config):
        return records.Outside(test, case, None)
    if KEPT not in config.stash:
        config.stash[KEPT] = records.read_records()
    return records.Outside(test, case, config.stash[KEPT].get(test, {}).get(case, []))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    """After a test has passed ask for all of its records."""
    result = yield
    if not isinstance(item, pytest.Function):
        return result
    made = item.funcargs.get("outside")
    if made is not None:
        made.finish()
        if writing(item.config):
            cases = item.config.stash[WRITTEN].setdefault(made.test, {})
            cases[made.case] = made.made
    else:
        published = item.path.parent == HERE / "published"
        assert not published, "a published check that makes no record"
    return result


def pytest_sessionfinish(session, exitstatus):
    """Write the records of a run without failures, and the page made of them."""
    if writing(session.config) and exitstatus == 0:
        load(STUDIES / "build_validation.py").renew(session.config.stash[WRITTEN])
