"""What DEVELOPERS.md says of adding something is so: few files, and all are there."""

import csv
import io
import json
import re
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import pytest
from astropy.table import Table
from jsonschema import Draft202012Validator

from advisor.antenna.shapes.registry import SHAPES
from advisor.show.charts.gallery import CHARTS

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TABLE = re.findall(r"^\| (an? [a-z ]+) \| (.+) \| (.+) \|$", PAGE, re.M)


def test_what_is_added_most_is_listed():
    assert {name for name, *_ in TABLE} >= {
        "a loss term", "a shape", "a chart", "a data source",
        "a question",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "files", "tests"), TABLE, ids=[row[0] for row in TABLE]
)
def test_at_most_four_files_that_are_there(name, files, tests):
    del name
    assert 1 <= len(files.split(", ")) <= 4
    for path in re.findall(r"`([^`]+)`", f"{files} {tests}"):
        assert (ROOT / path).exists(), path
    assert "`tests/" in tests


def test_files_named_in_the_recipes_are_there():
    """With a name of the new thing in them, the directory they go to."""
    recipes = PAGE[PAGE.index("## How to add") :].partition("\n## ")[0]
    paths = re.findall(r"`((?:advisor|geo|tests|docs|tables)/[^`]+)`", recipes)
    assert len(paths) > 20
    for path in paths:
        directory = path.partition("<")[0].rpartition("/")[0]
        assert (ROOT / (directory if "<" in path else path)).exists(), path


def test_a_chart_has_a_section_and_a_shape_a_row():
    """What a picture shows, and what a shape is, is explained to whoever uses it."""
    gallery = (ROOT / "docs" / "gallery.md").read_text(encoding="utf-8")
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    assert set(CHARTS) <= set(re.findall(r"^## ([\w-]+):", gallery, re.M))
    assert set(SHAPES) <= set(re.findall(r"^\| `([\w -]+)` \|", guide, re.M))


@pytest.mark.slow
def test_a_chart_is_one_entry(tmp_path):
    """A second name for a chart is in the help, and draws the same picture."""
    code = (
        "from dataclasses import replace\n"
        "from advisor.show.charts.gallery import CHARTS\n"
        "CHARTS['again'] = replace(CHARTS['fan'], about='once more')\n"
        "from advisor.cli import main\n"
        "ask = ['--date', '2026-12-05', '--hours', '2', '--band', '20 m', '--output']\n"
        "main(['chart', '--help'], standalone_mode=False)\n"
        "for name in ('again', 'fan'):\n"
        "    main(['chart', name, *ask, f'{name}.svg'], standalone_mode=False)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={"PYTHONPATH": str(ROOT), "SKIPLOBE_CACHE_DIR": str(tmp_path / "cache")},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert re.search(r"^ *again +once more$", done.stdout, re.M)
    again, drawn = (
        (tmp_path / f"{name}.svg").read_bytes() for name in ("again", "fan")
    )
    assert again == drawn


QUESTION = {
    "answers/transit.py": '''
"""How long a signal is under way."""

from advisor.answers.rows.inputs import Form, QuestionInputs
from geo.fields import record
from geo.sphere import distance_km
from geo.tables import read_table


@record
class TransitRow:
    """
    One target.

    Attributes
    ----------
    target : str
        Name of the target.
    under_way_ms : float
        Time along the great circle, a mean over the target. [ms]
    """

    target: str
    under_way_ms: float


FORM = Form("transit", QuestionInputs, TransitRow)


def transit_rows(question):
    """Distance over speed."""
    speed = read_table("signal_speed").numbers("speed_km_s")[0]
    here = question.place.lat_deg, question.place.lon_deg
    return [
        TransitRow(
            each.name,
            float(1e3 * each.weight @ distance_km(*here, each.lat_deg, each.lon_deg))
            / speed,
        )
        for each in question.targets
    ]
''',
    "show/text/transit.py": '''
"""How long a signal is under way, as text."""

from advisor.show.text.layout import table


def transit_text(rows):
    """One line a target."""
    cells = ([each.target, f"{each.under_way_ms:.1f}"] for each in rows)
    return table(["target", "ms under way"], cells, frozenset({0}))
''',
    "commands/transit.py": '''
"""How long a signal is under way."""

import click

from advisor.commands.emit import Report, emit, output_options
from advisor.commands.options import question_options
from advisor.commands.question import query_for


@click.command()
@question_options
@output_options
def transit(**options):
    """Say how long a signal is under way."""
    query = query_for(options)
    from advisor.answers.rows.inputs import question_inputs
    from advisor.answers.transit import FORM, transit_rows
    from advisor.show.text.transit import transit_text

    rows = transit_rows(query.question)
    inputs = question_inputs(query.question)
    text = lambda: transit_text(rows)
    report = Report(FORM, inputs, text, lambda: rows, note=query.note())
    emit(report, query.provenance)
''',
}
"""A question that nobody asked, by the files of the recipe; with its section in the
guide they are four."""

SPEED = """\
# %ECSV 1.0
# ---
# datatype:
# - {name: medium, datatype: string, description: What the signal goes through}
# - {name: speed_km_s, unit: km / s, datatype: float64, description: Its speed}
# meta: !!omap
# - {title: "Speed of signals"}
# - {source: "definition of the metre, SI brochure, 2.3.1"}
# - {licence: "numbers of fact"}
# - {spot: "vacuum 299792.458 km/s"}
# delimiter: ','
# schema: astropy-2.0
medium,speed_km_s
vacuum,299792.458
"""
"""A data source that nothing else reads."""

REGISTERED = """
import importlib, sys
from pathlib import Path

new = Path(sys.argv[1])
for name in ("answers", "show.text", "commands"):
    package = importlib.import_module(f"advisor.{name}")
    package.__path__.append(str(new.joinpath(*name.split("."))))
import geo.tables
geo.tables.table_root = lambda: new / "tables"
from advisor.cli import main

to = ["--to", "0,90", "--to", "0,9"]
ask = ["transit", "--from", "0,0", *to, "--date", "2026-12-05"]
for words in (
    ["--help"], ask, [*ask, "--json"], [*ask, "--csv"], [*ask, "--ecsv"],
    ["schema"], ["schema", "transit"],
):
    main(words, standalone_mode=False)
    print("=" * 40)
"""


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    """What the new question says: help, text, JSON, CSV, ECSV and its schema."""
    new = tmp_path_factory.mktemp("new")
    for name, source in QUESTION.items():
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        (new / name).write_text(source, encoding="utf-8")
    (new / "tables").mkdir()
    for path in (ROOT / "tables").iterdir():
        (new / "tables" / path.name).symlink_to(path)
    (new / "tables" / "signal_speed.ecsv").write_text(SPEED, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", REGISTERED, new],
        cwd=new,
        env={"PYTHONPATH": str(ROOT), "HOME": str(new)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    parts = done.stdout.split("=" * 40 + "\n")
    names = ("help", "text", "json", "csv", "ecsv", "schemas", "schema")
    return dict(zip(names, parts, strict=False))


@pytest.mark.slow
def test_a_question_is_three_files_and_its_section(asked):
    """In help, as text, as JSON by its own schema, as a table with units."""
    assert len(QUESTION) == 3
    # A quarter of the way round a sphere of 6371 km, and a tenth of that.
    quarter_ms = 1e3 * 0.5 * 3.14159265 * 6371.0 / 299792.458
    assert re.search(
        r"^ +transit +Say how long a signal is under way", asked["help"], re.M
    )
    assert re.search(rf"^0, 90 +{quarter_ms:.1f}$", asked["text"], re.M)
    answer, schema = (json.loads(asked[name]) for name in ("json", "schema"))
    Draft202012Validator(schema).validate(answer)
    told = [row["under_way_ms"] for row in answer["results"]]
    assert told == pytest.approx([quarter_ms, quarter_ms / 10.0], rel=1e-4)
    assert re.search(r"^transit ", asked["schemas"], re.M)
    rows = list(csv.DictReader(io.StringIO(asked["csv"])))
    assert [float(row["under_way_ms"]) for row in rows] == pytest.approx(told)
    columns = Table.read(asked["ecsv"], format="ascii.ecsv").columns
    assert str(columns["under_way_ms"].unit) == "ms"


@pytest.mark.slow
def test_a_data_source_is_a_table_and_its_reader(asked):
    """It is read, and every answer says which one it was read from."""
    assert Table.read(SPEED, format="ascii.ecsv")["speed_km_s"][0] == 299792.458
    digests = json.loads(asked["json"])["provenance"]["tables_sha256"]
    assert digests["signal_speed.ecsv"] == sha256(SPEED.encode()).hexdigest()
    assert len(digests) == len(list((ROOT / "tables").iterdir())) + 1
