"""House rules: what may import what, what is documented, what reads the outside."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import json
import os
import pkgutil
import re
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import click
import pandas as pd
import pytest
from astropy.table import Table

import advisor
from advisor.antenna.shapes.registry import SHAPES
from advisor.cli import main
from geo.tables import read_table

ROOT = Path(__file__).resolve().parents[1]
TABLES = ROOT / "tables"
PACKAGES = ("geo", "advisor")
SOURCES = sorted(path for name in PACKAGES for path in (ROOT / name).rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
ECSV = sorted(TABLES.glob("*.ecsv"))
PAGES = sorted(
    [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), TABLES / "README.md"]
)
COMMAND_LINE = {
    ROOT / "advisor" / "cli.py",
    *(ROOT / "advisor" / "commands").rglob("*.py"),
}

HEAVY = {"numpy", "pandas", "astropy", "matplotlib", "scipy", "skyfield"}
NETWORK = {
    "urllib.request", "http.client", "requests", "httpx", "aiohttp", "ftplib",
    "smtplib", "urllib3", "socketserver",
}  # fmt: skip
CLOCKS = {
    "datetime.now", "datetime.utcnow", "datetime.today", "date.today", "time.time",
    "time.time_ns", "time.localtime", "time.gmtime", "Timestamp.now", "Time.now",
}  # fmt: skip
ENVIRONMENT = {"os.environ", "os.getenv", "os.environb", "Path.home", "Path.cwd"}

# What a unit suffix of a column promises, as astropy writes it.
COLUMN_UNITS = {
    "_mhz": "MHz", "_hz": "Hz", "_km": "km", "_m": "m", "_deg": "deg", "_db": "dB",
    "_ohm": "Ohm", "_w": "W", "_nt": "nT",
}  # fmt: skip
# What a unit suffix of a parameter promises to say in its description.
PARAMETER_UNIT = re.compile(
    r"_(deg|mhz|hz|km|m|db|dbi|dbuv_m|nt|ohm|w|v|a|h|sfu|s_m|km2)$"
)


def short(path):
    """Name of a file from the root, for the test's name."""
    return str(path.relative_to(ROOT))


@cache
def text(path):
    """Text of a file."""
    return path.read_text(encoding="utf-8")


@cache
def tree(path):
    """Syntax tree of a file."""
    return ast.parse(text(path))


@cache
def imports(path):
    """Every module a file imports anywhere, functions included."""
    names = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add(node.module)
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def last_name(node):
    """Last part of a dotted name."""
    return getattr(node, "attr", getattr(node, "id", ""))


# --- what may import what --------------------------------------------------------


def test_every_import_keeps_its_contract():
    """What may import what stands in pyproject.toml; here it is held to."""
    done = subprocess.run(
        [
            sys.executable, "-c",
            "from importlinter.cli import lint_imports; "
            "raise SystemExit(lint_imports(no_cache=True))",
        ],
        cwd=ROOT, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_rooms_are_few_and_modules_short():
    """At most 12 folders and 5 files to begin with, and 600 lines a module."""
    met = [each for each in (ROOT / "advisor").iterdir() if each.name[:2] != "__"]
    met += (ROOT / "advisor").glob("__*__.py")
    assert sum(each.is_dir() for each in met) <= 12
    assert sum(each.is_file() for each in met) <= 5
    long = [short(path) for path in SOURCES if text(path).count("\n") > 600]
    assert not long


NAMED_FOR_ANOTHER_REASON = {
    ("advisor/antenna/earthed.py", "ground-mounted vertical"),  # the yardstick
    ("advisor/engine/wires.py", "dipole"),  # the far end's antenna
    ("advisor/station/station.py", "dipole"),  # the same
    ("advisor/station/file.py", "dipole"),  # the wire of who names none
}


def test_a_shape_is_named_in_its_entry_only():
    """Whoever asks what a shape is like reads its entry, and compares no names."""
    named = {
        (short(path), node.value)
        for path in SOURCES
        if any(name in text(path) for name in SHAPES)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Constant) and node.value in tuple(SHAPES)
    }
    entries = {one for one in named if one[0].startswith("advisor/antenna/shapes/")}
    assert {name for _, name in entries} == set(SHAPES)
    assert len(entries) == len(SHAPES)
    assert named - entries == NAMED_FOR_ANOTHER_REASON


@pytest.mark.slow
def test_no_test_imports_a_network_client():
    """What contracts say of the packages, here of the tests."""
    offences = [
        f"{short(path)}: {', '.join(found)}"
        for path in TESTS
        if any(name.partition(".")[0] in text(path) for name in NETWORK)
        and (found := sorted(imports(path) & NETWORK))
    ]
    assert not offences


def test_clock_and_environment_are_read_in_the_command_line_only():
    offences = []
    # Only those that could are read closely.
    told = {name.partition(".")[2] for name in CLOCKS | ENVIRONMENT} - {"time"}
    could = re.compile(rf"time\.time|\.({'|'.join(told)})\b|[\"'](now|today)[\"']")
    for path in sorted({*SOURCES} - COMMAND_LINE):
        for node in ast.walk(tree(path)) if could.search(text(path)) else ():
            if isinstance(node, ast.Attribute):
                name = f"{last_name(node.value)}.{node.attr}"
                read = name in CLOCKS | ENVIRONMENT
            elif isinstance(node, ast.Call) and node.args:
                first = node.args[0]
                word = first.value if isinstance(first, ast.Constant) else None
                name = f"{last_name(node.func)}({word!r})"
                read = name in ("datetime64('now')", "datetime64('today')")
            else:
                continue
            if read:
                offences.append(f"{short(path)}:{node.lineno}: {name}")
    assert not offences


def test_help_loads_nothing_heavy():
    """In a fresh interpreter, for the program and for every command."""
    words = [list(path)[1:] for path, _ in commands()]
    code = (
        "import json, sys\n"
        "from advisor.cli import main\n"
        f"for words in json.loads({json.dumps(words)!r}):\n"
        "    main([*words, '--help'], standalone_mode=False)\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        f"print('LOADED', sorted(loaded & {HEAVY!r}))\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True
    )
    assert result.returncode == 0, result.stderr
    assert result.stdout.splitlines()[-1] == "LOADED []"


# Not scipy.sparse: the answer adds up days with it (`reliability.day_states`).
SOLVER = {"scipy.linalg", "scipy.optimize", "scipy.interpolate"}
SLOW_TO_LOAD = {*SOLVER, "scipy.sparse", "urllib.request", "ssl"}


@pytest.mark.slow
def test_wires_from_the_cache_load_no_solver(tmp_path):
    """In fresh interpreters: the first solves and loads it, the second does not."""
    asked = ["--from", "KF07jo", "--to", "KE", "--date", "2026-12-05T06:00Z"]
    asked += ["--hours", "2", "--band", "20 m", "--shape"]
    lines = [
        [command, *asked, shape]
        for command in ("tonight", "activation")
        for shape in ("quarter-wave vertical", "dipole")
    ]
    code = (
        "import sys\n"
        "from advisor.cli import main\n"
        f"for words in {lines!r}:\n"
        "    main(words, standalone_mode=False)\n"
        f"print('LOADED', *sorted({SLOW_TO_LOAD!r} & set(sys.modules)))\n"
    )

    def loaded():
        result = subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**os.environ, "SKIPLOBE_CACHE_DIR": str(tmp_path)},
            capture_output=True,
            text=True,
        )
        assert result.returncode == 0, result.stderr
        return set(result.stdout.splitlines()[-1].split()) - {"LOADED"}

    assert loaded() >= SOLVER
    assert loaded() == set()


# --- tables ----------------------------------------------------------------------


def test_no_code_among_the_tables():
    assert not list(TABLES.rglob("*.py"))


@pytest.mark.parametrize("path", ECSV, ids=short)
def test_astropy_and_pandas_read_every_table(path):
    """Same columns and rows as this project's reader, and the units it names."""
    ours = read_table(path.stem)
    theirs = Table.read(path, format="ascii.ecsv")
    assert theirs.colnames == list(ours.columns)
    assert len(theirs) == len(ours)
    for name in theirs.colnames:
        unit = theirs[name].unit
        assert (unit is not None) == (name in ours.units), name
        if unit is not None:
            # A unit that astropy cannot make out has no dimensions to ask for.
            assert unit.physical_type is not None, f"{name}: {unit}"
        for suffix, promised in COLUMN_UNITS.items():
            if name.endswith(suffix) and not name.endswith("_s_m"):
                assert str(unit) == promised, f"{name} is in {unit}"
    frame = pd.read_csv(path, comment="#", dtype=str, keep_default_na=False)
    assert list(frame.columns) == list(ours.columns)
    assert frame.to_dict("list") == {k: list(v) for k, v in ours.columns.items()}


@pytest.mark.parametrize("path", ECSV, ids=short)
def test_every_table_says_what_it_is(path):
    meta = Table.read(path, format="ascii.ecsv").meta
    for key in ("title", "source", "licence", "spot"):
        assert meta.get(key), key
    for name, column in Table.read(path, format="ascii.ecsv").columns.items():
        # Twenty yearly columns of one kind describe themselves.
        assert column.description, name


def test_tables_readme_has_one_section_a_file():
    page = (TABLES / "README.md").read_text(encoding="utf-8")
    named = re.findall(r"^### (.+)$", page, re.M)
    files = [path.name for path in TABLES.iterdir() if path.name != "README.md"]
    assert sorted(named) == sorted(files)


# --- documentation of the code ----------------------------------------------------


@cache
def modules():
    """Every module of the packages, imported."""
    found = []
    for package in PACKAGES:
        paths = importlib.import_module(package).__path__
        found += [
            importlib.import_module(info.name)
            for info in pkgutil.walk_packages(paths, f"{package}.")
            if not info.name.endswith("__main__")
        ]
    return tuple(found)


def public():
    """Every public function, method and class, with where it stands."""
    for module in modules():
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", "") != (
                module.__name__
            ):
                continue
            where = f"{module.__name__}.{name}"
            if inspect.isfunction(thing) and "<locals>" not in thing.__qualname__:
                yield where, thing
            elif inspect.isclass(thing):
                yield where, thing
                for key, member in vars(thing).items():
                    member = getattr(member, "__func__", member)
                    inherited = any(hasattr(base, key) for base in thing.__bases__)
                    if key.startswith("_") or inherited:
                        continue
                    if inspect.isfunction(member):
                        yield f"{where}.{key}", member


def section(thing, title):
    """Items of one numpydoc section: name to description."""
    doc = inspect.getdoc(thing) or ""
    body = re.search(
        rf"^{title}\n-{{{len(title)}}}\n(.*?)(?=^[^\n]+\n---+\n|\Z)", doc, re.M | re.S
    )
    items: dict[str, str] = {}
    current: list[str] = []
    for line in body[1].splitlines() if body else []:
        if line and not line.startswith(" "):
            current = [part.strip() for part in line.split(" : ")[0].split(",")]
            items |= dict.fromkeys(current, "")
        else:
            for name in current:
                items[name] += f"{line.strip()} "
    return items


def parameters(thing):
    """Names of a function's parameters as numpydoc writes them."""
    stars = {inspect.Parameter.VAR_POSITIONAL: "*", inspect.Parameter.VAR_KEYWORD: "**"}
    return [
        stars.get(parameter.kind, "") + name
        for name, parameter in inspect.signature(thing).parameters.items()
        if name not in ("self", "cls")
    ]


def test_every_public_thing_has_a_summary():
    bare = [
        where for where, thing in public() if not (inspect.getdoc(thing) or "").strip()
    ]
    assert not bare


def test_every_public_function_documents_its_parameters():
    missing = [
        f"{where}: {name}"
        for where, thing in public()
        if inspect.isfunction(thing)
        for name in parameters(thing)
        if name not in section(thing, "Parameters")
    ]
    assert not missing


def test_no_docstring_describes_a_parameter_that_is_gone():
    stale = [
        f"{where}: {name}"
        for where, thing in public()
        if inspect.isfunction(thing)
        for name in section(thing, "Parameters")
        if name not in parameters(thing)
    ]
    assert not stale


def test_every_physical_parameter_states_its_unit():
    silent = [
        f"{where}: {name}"
        for where, thing in public()
        if inspect.isfunction(thing)
        for name, about in section(thing, "Parameters").items()
        if PARAMETER_UNIT.search(name) and "[" not in about
    ]
    assert not silent


def test_every_record_documents_its_fields():
    missing = [
        f"{where}: {field.name}"
        for where, thing in public()
        if dataclasses.is_dataclass(thing)
        for field in dataclasses.fields(thing)
        if not field.name.startswith("_")
        and not any(field.name in section(each, "Attributes") for each in thing.mro())
    ]
    assert not missing


# --- documentation for people -------------------------------------------------------


def commands(command=main, path=("skiplobe",)):
    """Every command and group with its words, the program itself first."""
    yield path, command
    if isinstance(command, click.Group):
        for name, each in sorted(command.commands.items()):
            yield from commands(each, (*path, name))


LEAVES = [
    pytest.param(path, command, id=" ".join(path))
    for path, command in commands()
    if not isinstance(command, click.Group)
]
GUIDE = ROOT / "docs" / "guide.md"


@pytest.mark.parametrize(("path", "command"), LEAVES)
def test_every_command_is_documented(path, command):
    """A heading and every option in the guide, an example in the help."""
    words = " ".join(path)
    guide = GUIDE.read_text(encoding="utf-8")
    assert re.search(rf"^#+ .*`{words}`", guide, re.M), f"no heading `{words}`"
    assert command.help
    assert f"  {words}" in command.help, "no example in the help"
    for option in command.params:
        if isinstance(option, click.Argument):
            # What it may be is said in the help of the command.
            assert option.make_metavar(click.Context(command)) in command.help
            continue
        assert option.help, option.opts
        for spelling in option.opts:
            assert f"`{spelling}" in guide, spelling


@pytest.mark.parametrize("page", PAGES, ids=short)
def test_relative_links_lead_somewhere(page):
    text = re.sub(
        r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.M | re.S
    )
    for link in re.findall(r"\]\(([^)\s]+)\)", text):
        if "://" in link or link.startswith("mailto:"):
            continue
        file, _, anchor = link.partition("#")
        target = (page.parent / file).resolve() if file else page
        assert target.exists(), link
        if anchor:
            assert anchor in anchors(target), link


def anchors(page):
    """Anchors of a page's headings, as the usual Markdown sites make them."""
    found = set()
    for heading in re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.M):
        plain = re.sub(r"[^\w\- ]", "", heading.replace("`", "").lower())
        found.add(plain.replace(" ", "-"))
    return found


def test_validation_page_names_every_published_check():
    """Each file of published values has its rows; each test named there exists."""
    page = (ROOT / "docs" / "validation.md").read_text(encoding="utf-8")
    files = [path for path in TESTS if path.parent.name == "published"]
    missing = [path.name for path in files if f"`{path.stem}`" not in page]
    assert not missing
    known = {
        name for path in TESTS for name in re.findall(r"^ *def (\w+)", text(path), re.M)
    }
    known |= {path.stem for path in TESTS}
    assert not set(re.findall(r"`(test_\w+)`", page)) - known


def test_changelog_has_an_unreleased_head():
    page = (ROOT / "docs" / "changelog.md").read_text(encoding="utf-8")
    assert re.findall(r"^## (.+)$", page, re.M)[0] == "[Unreleased]"


def test_nomenclature_knows_every_unit_suffix():
    """Every parameter or field with a unit suffix has its suffix explained."""
    page = (ROOT / "docs" / "nomenclature.md").read_text(encoding="utf-8")
    used = set()
    for _, thing in public():
        names = parameters(thing) if inspect.isfunction(thing) else []
        if dataclasses.is_dataclass(thing):
            names = [field.name for field in dataclasses.fields(thing)]
        used |= {m[0] for name in names if (m := PARAMETER_UNIT.search(name))}
    assert {suffix for suffix in used if f"`{suffix}`" not in page} == set()


def test_version_stands_in_one_place():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert re.fullmatch(r"\d+\.\d+\.\d+", project["project"]["version"])
    for path in SOURCES:
        assert "__version__ = " not in path.read_text(encoding="utf-8"), short(path)
    assert advisor.__version__ == project["project"]["version"]
