"""
Mutation check: how many slips put into the code on purpose do the tests notice?

Usage, from the root of the checkout, a Unix system and the test tools supposed:

    python docs/studies/mutation.py geo/hops.py             # at most 120 slips
    python docs/studies/mutation.py geo/hops.py --all       # every slip
    python docs/studies/mutation.py geo/hops.py --only 17 42  # these again, with words

No file is changed: a slip lives in the memory of a process of its own, which runs the
tests of `TESTS` that mirror the module, and the examples in its docstrings, until the
first of them fails. Random cases are fewer than usual and always the same. A run that
uses up its processor time counts as noticed. Beyond ``--limit`` slips a sample is
drawn, always the same for the same code.

Slips (`slips_of`): another operator of arithmetic, of bits or of logic; a comparison
with its boundary moved, or the other way round; a number one more, doubled or negated,
a truth value the other way; a sign, ``not``, ``~`` or absolute value left out; a
condition the other way round; one side of a least, a greatest, a clipping or a choice;
least for greatest, all for any, sine for cosine, ceiling for floor; a statement left
out; a result of zero. Docstrings, annotations and the texts of errors are left alone.
"""

import argparse
import ast
import copy
import importlib
import importlib.util
import io
import os
import random
import resource
import sys
import time
import types
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SEED, LIMIT, SECONDS, EXAMPLES = 20261126, 120, 60, 15

TESTS = {
    "geo/hops.py": ["tests/geo/test_hops.py", "tests/published/test_hop_tables.py"],
    "advisor/link/loss.py": [
        "tests/advisor/test_loss.py",
        "tests/published/test_absorption.py",
    ],
    "advisor/link/chance.py": [
        "tests/advisor/test_days.py",
        "tests/advisor/test_chance.py",
    ],
    "advisor/link/days.py": [
        "tests/advisor/test_days.py",
        "tests/advisor/test_chance.py",
    ],
    "advisor/antenna/feed.py": [
        "tests/advisor/test_feed.py",
        "tests/published/test_feed_published.py",
    ],
    "advisor/antenna/feed_line.py": [
        "tests/advisor/test_feed.py",
        "tests/published/test_feed_published.py",
    ],
}
"""Tests of each module; the examples in its docstrings come on top."""

LIBRARIES = (
    "numpy",
    "scipy.sparse",
    "scipy.special",
    "hypothesis.extra.numpy",
    "astropy.table",
)
"""Imported once and not in each run."""

SWAPPED = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
COMPARED = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
RENAMED = {
    "minimum": "maximum",
    "maximum": "minimum",
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "sin": "cos",
    "cos": "sin",
    "arcsin": "arccos",
    "arccos": "arcsin",
    "sinh": "cosh",
    "cosh": "sinh",
    "ceil": "floor",
    "floor": "ceil",
    "real": "imag",
    "imag": "real",
}
PICKED = {"minimum": (0, 1), "maximum": (0, 1), "where": (1, 2), "clip": (0,)}
"""Calls that are replaced by one of their arguments."""

DROPPED = {"abs", "conj"}
"""Calls that are replaced by what they are called with or on."""

Slip = tuple[int, str, ast.Module]


# --- making slips -----------------------------------------------------------------


def numbers_near(value: object) -> list[object]:
    """What a constant may be mistyped as."""
    if isinstance(value, bool):
        return [not value]
    if not isinstance(value, int | float):
        return []
    near: list[object] = [value + 1]
    if value != 0:
        near += [-value] + ([2 * value] if value != 1 else [])
    return near


def changed(node: ast.AST) -> Iterator[ast.AST]:
    """Every slip at one place: nodes to stand there instead."""
    if isinstance(node, ast.Constant):
        for value in numbers_near(node.value):
            yield ast.Constant(value)
    elif isinstance(node, ast.BinOp | ast.AugAssign | ast.BoolOp):
        if type(node.op) in SWAPPED:
            other = copy.copy(node)
            other.op = SWAPPED[type(node.op)]()
            yield other
    elif isinstance(node, ast.Compare):
        for place, operator in enumerate(node.ops):
            for kind in COMPARED[type(operator)]:
                other = copy.copy(node)
                other.ops = [*node.ops]
                other.ops[place] = kind()
                yield other
    elif isinstance(node, ast.UnaryOp):
        yield node.operand
    elif isinstance(node, ast.Call):
        yield from changed_calls(node)
    elif isinstance(node, ast.Attribute) and node.attr in RENAMED:
        other = copy.copy(node)
        other.attr = RENAMED[node.attr]
        yield other
    if isinstance(node, ast.If | ast.IfExp):
        other = copy.copy(node)
        other.test = ast.UnaryOp(ast.Not(), node.test)
        yield other
    elif isinstance(node, ast.Return) and node.value is not None:
        yield ast.Return(ast.BinOp(ast.Constant(0), ast.Mult(), node.value))
    if isinstance(node, ast.AugAssign | ast.Raise) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
    ):
        yield ast.Pass()


def changed_calls(node: ast.Call) -> Iterator[ast.AST]:
    """One argument in place of a call, or the call without one of its limits."""
    name = getattr(node.func, "attr", getattr(node.func, "id", ""))
    if name in PICKED and len(node.args) > 1:
        for place in PICKED[name]:
            yield node.args[place]
    if name == "clip" and len(node.args) == 3:
        for place in (1, 2):
            other = copy.copy(node)
            other.args = [*node.args]
            other.args[place] = ast.Constant(None)
            yield other
    if name in DROPPED:
        yield node.args[0] if node.args else node.func.value
    if isinstance(node.func, ast.Name) and name in ("min", "max"):
        other = copy.copy(node)
        other.func = ast.Name(RENAMED[name], ast.Load())
        yield other


def places(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None, ast.AST]]:
    """Everything that may be changed: parent, field, place in it, node."""
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list"):
            continue
        for place, child in enumerate(value if isinstance(value, list) else [value]):
            if not isinstance(child, ast.AST) or isinstance(child, ast.JoinedStr):
                continue
            yield node, field, place if isinstance(value, list) else None, child
            yield from places(child)


def slips_of(source: str) -> list[Slip]:
    """Every slip in a module: line, what became what, and the module with it."""
    tree = ast.parse(source)
    found: list[Slip] = []
    for parent, field, place, node in places(tree):
        for other in changed(node):
            here = ast.copy_location(other, node)
            keep = getattr(parent, field)
            if place is None:
                setattr(parent, field, here)
            else:
                setattr(parent, field, [*keep[:place], here, *keep[place + 1 :]])
            module = ast.fix_missing_locations(copy.deepcopy(tree))
            setattr(parent, field, keep)
            # The smallest thing around it that reads by itself.
            around = parent if isinstance(parent, ast.expr) else node
            before = ast.unparse(around).split("\n")[0]
            after = ast.unparse(other).split("\n")[0]
            shown = ast.unparse(node).split("\n")[0]
            within = f"   in  {before}" if around is not node else ""
            line = getattr(node, "lineno", getattr(parent, "lineno", 0))
            found.append((line, f"{shown}  ->  {after}{within}", module))
    return found


# --- trying them ------------------------------------------------------------------


def prepare() -> None:
    """Import what no slip touches, so that each run starts fast."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    sys.path.insert(0, str(ROOT))
    os.chdir(ROOT)
    for name in ("pytest", "hypothesis", *LIBRARIES):
        importlib.import_module(name)
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutation",
        max_examples=EXAMPLES,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.explicit, Phase.generate],
    )
    settings.load_profile("mutation")


def imported_by(path: Path) -> set[str]:
    """Modules of the project that a file names in its imports, anywhere in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [
                node.module,
                *(f"{node.module}.{each.name}" for each in node.names),
            ]
            found |= {name for name in names if name.startswith(("advisor.", "geo."))}
    return {name for name in found if (ROOT / f"{name.replace('.', '/')}.py").is_file()}


def preload(path: str) -> None:
    """Import what a module's tests import, except what needs the module itself."""
    known: dict[str, set[str]] = {}
    ahead = set().union(*(imported_by(ROOT / test) for test in [path, *TESTS[path]]))
    while ahead:
        name = ahead.pop()
        known[name] = imported_by(ROOT / f"{name.replace('.', '/')}.py")
        ahead |= known[name] - known.keys()
    needing = {path.removesuffix(".py").replace("/", ".")}
    while more := {name for name in known if known[name] & needing} - needing:
        needing |= more
    for name in sorted(known.keys() - needing):
        importlib.import_module(name)


def run(path: str, module: ast.Module, talk: bool = False) -> str:
    """Run the tests of a module that has a slip; "" if none of them notices."""
    words = ["-x", "-q", "-p", "no:cacheprovider", "--no-header", "--tb=short"]
    words += [] if talk else ["--assert=plain", "-p", "no:junitxml"]
    pid = os.fork()
    if pid == 0:
        status = 70
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 5))
            resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
            status = try_out(path, module, words, talk)
        finally:
            os._exit(status)
    _, status = os.waitpid(pid, 0)
    if os.WIFSIGNALED(status):
        return "time"
    code = os.waitstatus_to_exitcode(status)
    return {0: "", 1: "test", 2: "test", 70: "import"}.get(code, f"exit {code}")


def try_out(path: str, module: ast.Module, words: list[str], talk: bool) -> int:
    """Put the module with the slip in its place and run its tests; an exit status."""
    import pytest

    name = path.removesuffix(".py").replace("/", ".")
    spec = importlib.util.spec_from_file_location(name, ROOT / path)
    slipped = importlib.util.module_from_spec(spec)
    parent, _, last = name.rpartition(".")
    above = importlib.import_module(parent)
    sys.modules[name] = slipped
    setattr(above, last, slipped)
    exec(compile(module, str(ROOT / path), "exec"), slipped.__dict__)
    # Its fixtures ask the whole program and are not wanted here; importing it would
    # import the whole program each time.
    unwanted = "tests.advisor.conftest"
    sys.modules[unwanted] = types.ModuleType(unwanted)
    words = [*words, path, *TESTS[path]]
    if talk:
        return int(pytest.main(words))
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        return int(pytest.main(words))


def check(path: str, limit: int, only: list[int]) -> int:
    """Try the slips of a module, print what is not noticed, and count."""
    source = (ROOT / path).read_text(encoding="utf-8")
    slips = list(enumerate(slips_of(source)))
    preload(path)
    if run(path, ast.parse(source)):
        print(f"{path}: its tests fail without any slip", file=sys.stderr)
        return 1
    if only:
        chosen = [slips[i] for i in only]
    elif limit and len(slips) > limit:
        # In the order drawn: a run that is cut short is a smaller sample.
        chosen = random.Random(SEED).sample(slips, limit)
    else:
        chosen = slips
    start, ends = time.monotonic(), []
    for number, (line, what, module) in chosen:
        ends.append(run(path, module, talk=bool(only)))
        if not ends[-1]:
            print(f"{path}:{line}: not noticed, number {number}: {what}", flush=True)
    tried, noticed = len(ends), sum(bool(end) for end in ends)
    print(
        f"{path}: {len(slips)} slips, {tried} tried, {noticed} noticed "
        f"({100 * noticed / tried:.0f} %), {ends.count('time')} of them by time, "
        f"{ends.count('import')} on import; {time.monotonic() - start:.0f} s"
    )
    return 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[1])
    parser.add_argument("path", choices=TESTS)
    parser.add_argument("--limit", type=int, default=LIMIT)
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--only", type=int, nargs="+", default=[])
    asked = parser.parse_args()
    prepare()
    sys.exit(check(asked.path, 0 if asked.all else asked.limit, asked.only))
