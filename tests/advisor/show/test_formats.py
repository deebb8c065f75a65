"""JSON and ECSV of every command against their schemas, and the page about them."""

import importlib.util
import io
import json
import os
import re
import sys
from functools import cache
from pathlib import Path

import pandas as pd
import pytest
from astropy.table import QTable, Table
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from advisor.cli import main
from advisor.commands.schema import forms
from advisor.show.formats.ecsv import rows_ecsv
from advisor.show.formats.exports import SCHEMA_VERSION, rows_csv
from advisor.show.formats.schema import columns_of, kinds, schema_of

FORMS = forms()
COMMANDS = tuple(form for form in FORMS if form != "geojson")

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "formats.md").read_text(encoding="utf-8")

R12 = ["--r12", "58"]
ASKED = ["--date", "2026-12-05", "--hours", "2", *R12]
POLAR = ["--date", "2026-06-21", "--hours", "2", *R12]
AT = ["--at", "2026-12-05T17:00Z", *R12]
WIRE = ["--from", "KF07jo", "--shape", "dipole", "--height-m", "8"]
CLOSED = ["--to", "US", "--power-w", "0.001", "--emission", "SSB", "--band", "10 m"]
KNOWN = ["--kp", "6", "--flare", "X1", "--proton-flux", "1000"]
KNOWN += ["--fof2-now", "6.8@KF07jo"]
TWO = ["--to", "KE", "--to", "within 800 km"]
FREE = ["--shape", "free wire", "--dim", "points_m=0,0,1;0,6,7;0,20,7"]
UPRIGHT = ["--from", "KF07jo", "--shape", "ground-mounted vertical"]
SUPPORTS = ["--to", "KE", "--band", "20 m", "--pole-m", "9", "--wire-m", "12"]
SUPPORTS += ["--shape", "sloper", "--shape", "delta loop"]
BANDS = ["--band", "20 m", "--band", "15 m"]
SLOW = pytest.mark.slow

LONG = ("activation", "check", "hang", "wire")
"""Commands whose demonstration takes long: all they are asked stands below."""

BRIEF = ("hops", "sky", "station show")
"""Those whose demonstration takes no time."""


def command_of(words):
    """The command of some words."""
    found = main
    for word in words.split():
        found = found.commands[word]
    return found


def demonstration(command):
    """Words that ask for the demonstration at a set hour."""
    taken = {name for each in command_of(command).params for name in each.opts}
    words = {"--at": AT[1], "--date": ASKED[1], "--hours": ASKED[3], "--r12": R12[1]}
    return [word for name in words if name in taken for word in (name, words[name])]


QUESTIONS = [
    *(
        pytest.param(each, demonstration(each), marks=() if each in BRIEF else SLOW)
        for each in COMMANDS
        if each not in LONG
    ),
    pytest.param("tonight", [*ASKED, *WIRE, *TWO], marks=SLOW),
    pytest.param(
        "tonight",
        [*ASKED, *WIRE, "--to", "JP", "--to", "-41,175", "--long-path"],
        marks=SLOW,
    ),
    pytest.param(
        "tonight",
        [*POLAR, "--from", "90,0", "--to", "85,-100", "--shape", "dipole"],
        marks=SLOW,
    ),
    ("tonight", [*ASKED, *WIRE, *CLOSED]),
    pytest.param(
        "tonight", [*ASKED, *WIRE, "--to", "KE", *KNOWN, "--provenance"], marks=SLOW
    ),
    pytest.param(
        "tonight",
        [*ASKED, *WIRE, "--to", "within 50 km", "--band", "160 m"],
        marks=SLOW,
    ),
    pytest.param("aim", [*ASKED, *WIRE, "--to", "KE", "--to", "BR"], marks=SLOW),
    pytest.param("aim", [*ASKED, *UPRIGHT, "--to", "KE"], marks=SLOW),
    ("aim", [*ASKED, *WIRE, *CLOSED]),
    pytest.param(
        "aim",
        [*ASKED, *WIRE, "--to", "within 800 km", "--bearing-deg", "90"],
        marks=SLOW,
    ),
    pytest.param("compare", [*ASKED, *WIRE, "--to", "JP", "--long-path"], marks=SLOW),
    pytest.param(
        "compare",
        [*ASKED, "--band", "10 m", "--power-w", "0.001", "--emission", "SSB"],
        marks=SLOW,
    ),
    ("reach", [*ASKED, *WIRE, "--to", "KE", "--band", "40 m"]),
    pytest.param(
        "reach",
        ["--date", "2026-06-21", "--from", "-85,15", "--shape", "dipole", "--r12", "5"],
        marks=SLOW,
    ),
    pytest.param("activation", [*ASKED, "--enough-h", "2"], marks=SLOW),
    ("activation", [*ASKED, *WIRE, *CLOSED]),
    pytest.param("activation", [*ASKED, *WIRE, *TWO, "--long-path"], marks=SLOW),
    pytest.param(
        "activation",
        [*POLAR, "--from", "80,15", "--to", "NO", "--shape", "dipole"],
        marks=SLOW,
    ),
    pytest.param(
        "hang",
        [*ASKED, *WIRE[:2], *SUPPORTS],
        marks=SLOW,
    ),
    ("wire", ["--shape", "dipole", "--quick", "--band", "20 m"]),
    pytest.param(
        "wire",
        ["--band", "20 m", "--takeoff-deg", "12.5", "--takeoff-deg", "3"],
        marks=SLOW,
    ),
    ("wire", [*FREE, "--band", "20 m", "--quick"]),
    ("wire", [*UPRIGHT, "--band", "20 m", "--provenance"]),
    pytest.param("wire", [*WIRE[2:], "--bearing-deg", "90", *BANDS], marks=SLOW),
    pytest.param("why", [*AT, *WIRE, "--to", "KE", "--band", "20 m"], marks=SLOW),
    pytest.param("why", [*AT, *WIRE, "--to", "JP", "--long-path"], marks=SLOW),
    pytest.param("why", [*AT, *WIRE, "--to", "KF07kn", "--band", "80 m"], marks=SLOW),
    pytest.param(
        "why", [*AT, *WIRE, "--to", "NZ", "--band", "160 m", "--provenance"], marks=SLOW
    ),
    pytest.param(
        "why",
        [*AT, "--from", "-80,0", "--to", "-85,90", "--shape", "dipole"],
        marks=SLOW,
    ),
    pytest.param("check", ["--provenance"], marks=SLOW),
    ("hops", ["--distance-km", "500", "--distance-km", "3500"]),
    ("hops", ["--from", "KF07jo", "--at", "2026-12-05T14:00Z", "--provenance"]),
    ("sky", [*ASKED, "--from", "KF07jo", "--to", "JP", "--kp", "5", "--provenance"]),
    pytest.param(
        "sky",
        [*POLAR, "--from", "80,15", "--to", "KE", "--power-w", "0.001"],
        marks=SLOW,
    ),
    ("station show", [*WIRE, "--dim", "sag_m=0.5", "--provenance"]),
]


def plain_questions():
    """The questions without their marks."""
    return [tuple(getattr(each, "values", each)) for each in QUESTIONS]


def first_and_last():
    """Of each command the first question and the last."""
    kept = {}
    for each, (command, _) in zip(QUESTIONS, plain_questions(), strict=True):
        kept.setdefault(command, {})["last" if command in kept else "first"] = each
    return [each for both in kept.values() for each in both.values()]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


@cache
def kept_answer(command, words, form):
    """Run a command in one format, once for all tests."""
    result = CliRunner().invoke(main, [*command.split(), *words, form])
    assert result.exit_code == 0, result.output
    return result.stdout


def answer(command, words, form):
    """Answer of a command in one format."""
    return kept_answer(command, tuple(words), form)


def build_formats():
    """The script behind the lists of fields in docs/formats.md."""
    path = ROOT / "docs" / "studies" / "build_formats.py"
    spec = importlib.util.spec_from_file_location("build_formats", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def every_part(schema):
    """Every part of a schema that describes a value, with its path."""
    stack = [("", schema)]
    while stack:
        path, part = stack.pop()
        if not isinstance(part, dict):
            continue
        yield path, part
        for key in ("properties", "patternProperties", "$defs"):
            stack += [
                (f"{path}.{name}", each) for name, each in part.get(key, {}).items()
            ]
        for key in ("items", "additionalProperties"):
            stack.append((f"{path}.{key}", part.get(key)))
        for key in ("oneOf", "anyOf", "prefixItems"):
            stack += [(f"{path}.{i}", each) for i, each in enumerate(part.get(key, []))]


# --- JSON ---------------------------------------------------------------------------


@pytest.mark.parametrize(("command", "words"), QUESTIONS)
def test_json_has_its_form(command, words):
    """Every field is in the schema, and every one that must be there is."""
    text = answer(command, words, "--json")
    whole = json.loads(text, parse_constant=lambda name: pytest.fail(name))
    errors = [
        f"{'.'.join(map(str, each.absolute_path))}: {each.message[:200]}"
        for each in Draft202012Validator(schema_of(FORMS[command])).iter_errors(whole)
    ]
    assert not errors


def test_every_command_with_json_has_a_form():
    found = set()
    for name, command in main.commands.items():
        for sub, each in getattr(command, "commands", {"": command}).items():
            if any("--json" in option.opts for option in each.params):
                found.add(f"{name} {sub}".strip())
    assert found == set(COMMANDS)
    asked = {command for command, _ in plain_questions()}
    assert asked == found


@pytest.mark.parametrize("form", FORMS)
def test_every_schema_is_one(form):
    schema = schema_of(FORMS[form])
    Draft202012Validator.check_schema(schema)
    assert schema["properties"]["schema_version"]["const"] == SCHEMA_VERSION
    for path, part in every_part(schema):
        if "$ref" in part:
            # Whole in itself: what it refers to is within.
            assert part["$ref"].removeprefix("#/$defs/") in schema["$defs"], path
            continue
        assert part.get("description") or "title" in part or "anyOf" in part, path
        if part.get("type") == "object" and "properties" in part:
            # A set-up holds what its shape has; nothing else is open.
            is_open = path.endswith((".setup", ".set_up_inputs"))
            closed = part["additionalProperties"] is False or is_open
            assert closed, path


@pytest.mark.parametrize("form", FORMS)
def test_every_number_states_its_unit(form):
    """And the suffix of its name agrees with it."""
    suffixes = {
        "_deg": "deg", "_mhz": "MHz", "_km": "km", "_m": "m", "_mm": "mm", "_db": "dB",
        "_dbi": "dBi", "_dbw": "dB(W)", "_ohm": "Ohm", "_w": "W", "_v": "V", "_a": "A",
        "_h": "h", "_min": "min", "_hz": "Hz",
    }  # fmt: skip
    for path, part in every_part(schema_of(FORMS[form])):
        kinds = part.get("type", [])
        if "number" not in ([kinds] if isinstance(kinds, str) else kinds):
            continue
        name = re.sub(r"[\^$]|(\.items|\.\d+)+$", "", path).rpartition(".")[2]
        if name in ("value", "additionalProperties"):
            # A cell of any kind, or a value whose unit is in its key.
            continue
        assert part.get("unit"), path
        if name.endswith("_db_hz"):
            assert part["unit"] == "dB(Hz)", path
            continue
        for suffix, unit in suffixes.items():
            if "_at_" in path:
                # Named by the angle it is told for.
                assert part["unit"] in ("dB", "dBi"), path
            elif name.endswith(suffix):
                assert part["unit"] == unit, path


def test_a_field_too_many_is_refused():
    """The schema is closed: what is not documented fails."""
    whole = json.loads(answer("hops", [], "--json"))
    form = Draft202012Validator(schema_of(FORMS["hops"]))
    assert form.is_valid(whole)
    whole["results"][0]["new_km"] = 1.0
    assert not form.is_valid(whole)
    del whole["results"][0]["new_km"], whole["results"][0]["group_km"]
    assert not form.is_valid(whole)


# --- the command that prints a form ------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_schema_prints_the_form(form):
    result = CliRunner().invoke(main, ["schema", *form.split()])
    assert result.exit_code == 0
    assert json.loads(result.stdout) == schema_of(FORMS[form])


def test_schema_alone_lists_the_forms():
    result = CliRunner().invoke(main, ["schema"])
    assert [line.split("  ")[0] for line in result.stdout.splitlines()] == list(FORMS)


def test_schema_of_something_else_is_refused(tmp_path):
    result = CliRunner().invoke(main, ["schema", "tonite"])
    assert result.exit_code == 2
    assert "did you mean 'tonight'" in result.stderr
    result = CliRunner().invoke(main, ["schema", "chart"])
    assert result.exit_code == 2
    assert "no JSON is made by 'chart'" in result.stderr
    (tmp_path / "old.json").write_text("kept")
    result = CliRunner().invoke(
        main, ["schema", "sky", "--output", str(tmp_path / "old.json")]
    )
    assert result.exit_code == 2
    assert (tmp_path / "old.json").read_text() == "kept"


# --- ECSV ----------------------------------------------------------------------------


@pytest.mark.parametrize(("command", "words"), first_and_last())
def test_ecsv_is_read_by_astropy_and_pandas(command, words):
    """Same rows as CSV and JSON, with the units of the schema."""
    text = answer(command, words, "--ecsv")
    whole = json.loads(answer(command, words, "--json"))
    table = Table.read(text, format="ascii.ecsv")
    assert len(table) == len(whole["results"])
    assert table.meta["inputs"] == whole["inputs"]
    assert table.meta["provenance"] == whole["provenance"]
    assert table.meta["schema_version"] == SCHEMA_VERSION
    for name, column in columns_of(FORMS[command], tuple(table.colnames)).items():
        unit = column.get("unit", "")
        unit = {"1": None, "": None, "dBi": "dB"}.get(unit, unit)
        assert (None if table[name].unit is None else str(table[name].unit)) == unit
        assert table[name].description == column["description"]
        if unit is not None:
            assert table[name].unit.physical_type is not None
        if command == "why" and name == "value":
            continue
        # astropy takes an empty text for none.
        nothing = "" if kinds(column) == ["string"] else None
        cells = table[name].tolist()
        told = [nothing if cell is None else cell for cell in cells]
        assert told == [row[name] for row in whole["results"]], name
    plain = "".join(f"{line}\n" for line in text.splitlines() if line[0] != "#")
    frame = pd.read_csv(io.StringIO(text), comment="#")
    assert list(frame.columns) == table.colnames
    pd.testing.assert_frame_equal(frame, pd.read_csv(io.StringIO(plain)))


@pytest.mark.parametrize(("command", "words"), [("sky", ASKED), ("hops", [])])
def test_ecsv_is_the_same_twice(command, words):
    again = CliRunner().invoke(main, [command, *words, "--ecsv"])
    assert again.stdout == answer(command, words, "--ecsv")


def test_ecsv_gives_quantities():
    sky = QTable.read(answer("sky", ASKED, "--ecsv"), format="ascii.ecsv")
    assert sky["fof2_mhz"].to("kHz").value == pytest.approx(
        1e3 * sky["fof2_mhz"].value, rel=1e-12
    )


# One line of text, as a station file takes it; astropy takes blanks around it away.
TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=40)
TEXTS = TEXTS.map(str.strip)


@pytest.mark.slow
@settings(max_examples=60)
@example(texts=["#", "# one", "a # b"], inputs={})
@given(
    texts=st.lists(TEXTS, min_size=1, max_size=4),
    inputs=st.dictionaries(
        st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
        st.none()
        | st.booleans()
        | st.integers(-(10**12), 10**12)
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(st.characters(exclude_categories=["Cs"])),
        max_size=4,
    ),
)
def test_any_text_comes_back_from_ecsv(texts, inputs):
    """Quotes, commas, '#', line separators, empty ones; header values of any kind."""
    rows = [{"key": text, "value": "", "origin": "x"} for text in texts]
    text = rows_ecsv(FORMS["station show"], rows, inputs, {})
    table = Table.read(text.split("\n"), format="ascii.ecsv")
    assert [text or "" for text in table["key"].tolist()] == texts
    assert table["value"].tolist() == [None] * len(texts)
    assert table.meta["inputs"] == inputs


def test_a_column_unknown_to_the_schema_is_a_defect():
    with pytest.raises(KeyError, match="hops has no column new_km"):
        rows_ecsv(FORMS["hops"], [{"new_km": 1.0}], {}, {})


def test_what_is_not_finite_is_missing_everywhere():
    row = {"key": float("inf"), "value": float("nan"), "origin": ""}
    assert rows_csv([row]) == "key,value,origin\n,,\n"
    assert rows_ecsv(FORMS["station show"], [row], {}, {}).endswith("\n,,\n")


@pytest.mark.slow
def test_no_rows_still_name_the_columns():
    """A vertical has no bearings to list: tables without rows, not without names."""
    words = [*ASKED, *UPRIGHT, "--to", "KE"]
    names = answer("aim", words, "--csv")
    assert names.startswith("setup,target,wire_deg,")
    assert pd.read_csv(io.StringIO(names)).empty
    ecsv = Table.read(answer("aim", words, "--ecsv"), format="ascii.ecsv")
    assert ",".join(ecsv.colnames) == names.strip()


# --- mistakes ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "forms", [("--json", "--csv"), ("--csv", "--ecsv"), ("--json", "--ecsv")]
)
@pytest.mark.parametrize("command", COMMANDS)
def test_two_formats_are_refused_before_anything_is_done(command, forms):
    result = CliRunner().invoke(main, [*command.split(), *reversed(forms)])
    assert result.exit_code == 2
    assert not result.stdout
    assert f"{forms[0]} and {forms[1]} exclude each other: give one" in result.stderr


@pytest.mark.parametrize("command", ["hang", "tonight", "hops", "station show"])
def test_a_file_that_cannot_be_is_refused_at_once(command, tmp_path):
    """Even where the answer would take minutes; nothing is left behind."""
    old = tmp_path / "old.ecsv"
    old.write_text("kept")
    result = CliRunner().invoke(
        main, [*command.split(), "--ecsv", "--output", str(old)]
    )
    assert result.exit_code == 2
    assert "exists: add --overwrite" in result.stderr
    assert old.read_text() == "kept"
    nowhere = tmp_path / "nowhere" / "new.ecsv"
    result = CliRunner().invoke(
        main, [*command.split(), "--ecsv", "--output", str(nowhere)]
    )
    assert result.exit_code == 1
    assert "there is no directory" in result.stderr
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["old.ecsv"]


# --- the page ------------------------------------------------------------------------


@pytest.mark.slow
def test_the_page_lists_every_field():
    """Its lists are what the script makes of the schemas; no field is left out."""
    assert build_formats().page(PAGE) == PAGE
    frame = {"items", "properties", "geometry", "coordinates", "position"}
    rows = re.findall(r"^\| `(?:\S*\.)?(\S+)` \|", PAGE, re.M)
    named = {*rows, *re.findall(r"^### (\S+)$", PAGE, re.M)}
    for form in FORMS:
        schema = schema_of(FORMS[form])
        for path, part in every_part(schema):
            name = re.sub(r"(\.items|\.\d+)+$", "", path).rpartition(".")[2]
            listed = re.fullmatch(r"[a-z][a-z0-9_]+", name) and "description" in part
            # A part by itself is no field; what it holds is.
            is_part = path.lstrip(".") in schema["$defs"]
            if listed and name not in frame and not is_part:
                assert name in named, path


@pytest.mark.slow
def test_the_pages_example_works(tmp_path, monkeypatch):
    """The Python in the page, as it stands."""
    (tmp_path / "answer.json").write_text(answer("tonight", ASKED, "--json"))
    (tmp_path / "sky.ecsv").write_text(answer("sky", ASKED, "--ecsv"))
    monkeypatch.chdir(tmp_path)
    # The program of this environment, activated or not.
    beside = str(Path(sys.executable).parent)
    monkeypatch.setenv("PATH", f"{beside}{os.pathsep}{os.environ['PATH']}")
    blocks = re.findall(r"^```python\n(.*?)^```", PAGE, re.M | re.S)
    assert len(blocks) == 2
    for block in blocks:
        exec(compile(block, "docs/formats.md", "exec"), {})
