"""The command of an outing: text, pages, JSON, CSV and calendar."""

import csv
import io
import json

import pytest
from click.testing import CliRunner

from advisor.cli import main


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own files out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


HERE = [
    "--from",
    "KF07jo",
    "--date",
    "2026-12-05T12:00Z",
    "--hours",
    "2",
    "--r12",
    "60",
]


WIRE = ["--shape", "dipole", "--height-m", "8"]


def run(*words):
    """Run the command."""
    return CliRunner().invoke(main, ["activation", *words])


@pytest.mark.slow
def test_text_is_in_order_and_narrow():
    """Plan, table, wires, sun, feed, packing, figures explained once, cautions."""
    words = [*HERE, *WIRE, "--band", "20 m", "--band", "15 m", "--to", "KE"]
    result = run(*words, "--more")
    assert result.exit_code == 0, result.output
    text = result.stdout
    order = ["Plan:", "UTC", "run it", "Expected hours", "Cheapest fix", "civil dawn"]
    order += ["Wires, feed", "Take along", "A figure is", "power lines", "local rules"]
    places = [text.index(part) for part in order]
    assert places == sorted(places)
    assert text.count("A figure is") == 1
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.slow
def test_eight_wires_and_four_targets_fit_on_two_pages(tmp_path):
    """Two pages of 66 lines and 100 columns."""
    shapes = ["dipole", "doublet", "inverted V", "sloper", "delta loop", "half-square"]
    blocks = [
        f'[[setups]]\nname = "wire {s} with a long name"\nshape = "{s}"' for s in shapes
    ]
    blocks += [
        '[[setups]]\nname = "low"\nshape = "dipole"\nheight_m = 3',
        '[[setups]]\nname = "high"\nshape = "dipole"\nheight_m = 14',
    ]
    file = tmp_path / "eight.toml"
    file.write_text(
        'place = "KF07jo"\nbands = ["40 m", "20 m"]\n'
        + 'time_zone = "Africa/Johannesburg"\n'
        + 'to = ["KE", "JP", "within 600 km", "021"]\n'
        + "\n".join(blocks)
    )
    words = ["--station", str(file), "--date", "2026-12-05T12:00Z", "--hours", "8"]
    result = run(*words, "--r12", "60")
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert len(lines) <= 132
    assert max(map(len, lines)) <= 100


@pytest.mark.slow
def test_low_live_ends_are_in_the_cautions():
    """An end-fed wire is fed at 0.5 m by default."""
    asked = [*HERE, "--band", "20 m", "--to", "KE"]
    low = ["--shape", "end-fed half-wave"]
    brief = " ".join(run(*asked, *low).stdout.split())
    assert "Cautions: High voltage lower than 2.5 m: end-fed half-wave (" in brief
    assert brief.endswith("More: --more.")
    told = " ".join(run(*asked, *low, "--more").stdout.split())
    assert "within reach: High voltage lower than 2.5 m: " in told
    assert "feedpoint 0.5 m" in told
    cautions = json.loads(run(*asked, *low, "--json").stdout)["cautions"]
    assert "feedpoint 0.5 m" in cautions[0]


@pytest.mark.slow
def test_json_csv_and_text_say_the_same():
    """One plan, three formats."""
    words = [*HERE, *WIRE, "--band", "20 m", "--to", "KE", "--to", "ZM"]
    whole = json.loads(run(*words, "--json").stdout)
    table = list(csv.DictReader(io.StringIO(run(*words, "--csv").stdout)))
    assert len(table) == len(whole["results"])
    for cells, row in zip(table, whole["results"], strict=True):
        assert float(cells["chance"]) == row["chance"]
    assert {"plan", "bearing", "wires", "sun", "packing", "cautions"} <= set(whole)
    assert (
        f"It works {10 * whole['plan']['chance']:.1f} days in ten" in run(*words).stdout
    )
    assert whole["wires"][0]["exposure_m"] > 0.0


@pytest.mark.slow
def test_demonstration_says_what_it_is():
    """With nothing given the shipped scenario runs."""
    result = run("--date", "2026-12-05T15:00Z", "--hours", "2")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("Demonstration (no station, no place and no target")


@pytest.mark.slow
def test_same_question_same_bytes(tmp_path):
    """No clock in plan or calendar."""
    files = [tmp_path / "a.ics", tmp_path / "b.ics"]
    words = [*HERE, *WIRE, "--band", "20 m", "--to", "KE"]
    texts = [run(*words, "--calendar", str(file)).stdout for file in files]
    assert texts[0] == texts[1]
    assert files[0].read_bytes() == files[1].read_bytes()


BAD = {
    "no target": (["--from", "KF07jo"], "--to"),
    "no place": (["--to", "KE"], "place"),
    "priorities do not match": (
        [*HERE, *WIRE, "--to", "KE", "--priority", "1", "--priority", "2"],
        "2 priorities for 1 targets",
    ),
    "priority zero": ([*HERE, *WIRE, "--to", "KE", "--priority", "0"], "0"),
    "change takes less than nothing": (
        [*HERE, *WIRE, "--to", "KE", "--change-min", "-1"],
        "-1 minutes",
    ),
    "enough of nothing": ([*HERE, *WIRE, "--to", "KE", "--enough-h", "0"], "0 hours"),
    "swap not finite": ([*HERE, *WIRE, "--to", "KE", "--swap-min", "nan"], "nan"),
    "unknown zone": ([*HERE, *WIRE, "--to", "KE", "--local", "Mars/North"], "Mars"),
    "no hours": ([*HERE[:4], "--hours", "0", *WIRE, "--to", "KE"], "1 to 72"),
    "two formats": (["--json", "--csv"], "exclude"),
}


@pytest.mark.parametrize(("words", "says"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_line(words, says):
    """Exit code 2, nothing on stdout."""
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert says in result.stderr.strip().splitlines()[-1]


@pytest.mark.slow
def test_a_calendar_that_exists_is_kept(tmp_path):
    """Refused before anything is worked out; replaced with --overwrite."""
    file = tmp_path / "hill.ics"
    file.write_text("mine")
    words = [*HERE, *WIRE, "--band", "20 m", "--to", "KE", "--calendar", str(file)]
    result = run(*words)
    assert result.exit_code == 2
    assert "--overwrite" in result.stderr
    assert file.read_text() == "mine"
    assert run(*words, "--overwrite").exit_code == 0
    assert file.read_text().startswith("BEGIN:VCALENDAR")
