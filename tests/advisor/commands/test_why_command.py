"""The command ``why``: its formats say the same, and bad input is one clear line."""

import csv
import io
import json

import pytest
from click.testing import CliRunner

from advisor.cli import main

FROM = ["--from", "KF07jo", "--r12", "60"]
WIRE = ["--shape", "dipole", "--height-m", "8", "--bearing-deg", "110"]
AT = "2026-12-05T16:00Z"
DEMO = ["--r12", "60"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


def told(*words: str) -> dict:
    """Run ``why`` and read its JSON."""
    result = run("why", *words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout, parse_constant=lambda _: pytest.fail("not JSON"))


@pytest.mark.slow
def test_csv_rows_are_the_results_of_the_json():
    """One list, two formats; NaN is null or nothing."""
    words = ["--to", "-1.3,36.8", *FROM, *WIRE, "--band", "20 m", "--at", AT]
    rows = list(csv.DictReader(io.StringIO(run("why", *words, "--csv").stdout)))
    results = told(*words)["results"]
    assert [row["item"] for row in rows] == [row["item"] for row in results]
    for row, other in zip(rows, results, strict=True):
        value = other["value"]
        assert row["value"] == ("" if value is None else str(value))


@pytest.mark.slow
def test_demonstration_says_what_it_is():
    """With nothing given the shipped scenario runs and the first line says so."""
    result = run("why", "--at", AT)
    assert result.exit_code == 0
    assert result.stdout.startswith("Demonstration (no station, no place and no target")
    assert "(the best at that hour)" in result.stdout
    assert "Eastern Africa (M49 014)" in " ".join(result.stdout.split())


@pytest.mark.slow
def test_the_text_shows_the_figures_of_the_json():
    """Chance, distance, sums and changes as printed; no line over 100 columns."""
    words = ["--to", "014", *FROM, *WIRE, "--band", "20 m", "--at", AT]
    text, why = run("why", *words, "--more").stdout, told(*words)["why"]
    assert f"{10 * why['whole']['chance']:.1f} days in ten" in text
    assert f"Path {why['distance_km']:.0f} km" in text
    lines = text.splitlines()
    assert max(map(len, lines)) <= 100, max(lines, key=len)
    spreading = next(line for line in lines if line.startswith("spreading"))
    for one in why["budgets"]:
        assert f"-{one['spreading_db']:.1f}" in spreading
    places = [
        text.index(part)
        for part in (
            "Limit",
            "Path",
            "Layers",
            "mode ",
            "Sum",
            "Noise",
            "Result",
            "What",
        )
    ]
    assert places == sorted(places)


@pytest.mark.slow
def test_picked_set_up_is_shown_and_the_others_are_compared():
    """The demonstration's vertical against its dipole."""
    words = [*DEMO, "--band", "20 m", "--at", AT]
    picked = told(*words, "--set-up", "20 m vertical")["why"]
    assert picked["setup"] == "20 m vertical"
    # Two radials are a line on the ground, a decibel from round.
    assert 0.0 <= picked["wire_deg"] < 180.0
    others = {c["what"]: c for c in picked["changes"] if c["kind"] == "set-up"}
    assert set(others) == {"with linked dipole"}
    plain = told(*words)["why"]
    assert plain["setup"] == "linked dipole"
    assert others["with linked dipole"]["chance"] == plain["whole"]["chance"]


BAD = {
    "two targets": (["--to", "KE", "--to", "ZM", *FROM], "takes one"),
    "no target": (FROM, "--to"),
    "no place": (["--to", "KE"], "no place"),
    "two bands": (
        ["--to", "KE", *FROM, "--band", "20 m", "--band", "40 m"],
        "takes one",
    ),
    "unknown band": (["--to", "KE", *FROM, "--band", "11 m"], "11 m"),
    "band not allowed": (
        ["--to", "KE", *FROM, "--emission", "SSB", "--band", "30 m"],
        "not allowed",
    ),
    "band of no set-up": (["--band", "17 m", "--at", AT], "no set-up is cut for 17 m"),
    "band not of the set-up picked": (
        ["--band", "40 m", "--set-up", "20 m vertical", "--at", AT],
        "20 m vertical: 20 m",
    ),
    "unknown set-up": (["--set-up", "linked dipol"], "linked dipole"),
    "naive local time": (
        ["--to", "KE", *FROM, "--at", "2026-12-05T18:00"],
        "Z for UTC",
    ),
    "no date": (["--to", "KE", *FROM, "--at", "soon"], "soon"),
    "date outside the tables": (
        ["--to", "KE", *FROM, "--at", "2090-01-01T00:00Z"],
        "2053",
    ),
    "unknown region": (["--to", "Easter Africa", *FROM], "Eastern Afr"),
    "both indices": (["--to", "KE", *FROM, "--flux", "90"], "one"),
    "height zero": (
        ["--to", "KE", *FROM, "--shape", "dipole", "--height-m", "0"],
        "0",
    ),
    "two formats": (["--json", "--csv"], "exclude"),
}


@pytest.mark.parametrize(("words", "says"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_line(words, says):
    """Exit code 2, nothing on stdout, the offending value or the cure in the line."""
    result = run("why", *words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert says in result.stderr.strip().splitlines()[-1]


@pytest.mark.slow
def test_the_last_hour_of_the_tables_has_no_hour_later():
    """What cannot be asked is left out; the answer stands."""
    why = told("--to", "KE", *FROM, "--band", "20 m", "--at", "2053-10-08T23:00Z")
    hours = [c["what"] for c in why["why"]["changes"] if c["kind"] == "hour"]
    assert hours == ["an hour earlier (22Z)"]


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["--more", "--brief", "--json", "--csv"])
def test_where_no_ray_comes_down_it_says_so(kind):
    """160 m at noon to Japan: the E layer turns every flat ray, no mode is there."""
    words = ["--from", "KF07jo", *WIRE, "--to", "JP", "--band", "160 m"]
    result = run("why", *words, "--at", "2026-12-05T09:00Z", kind)
    assert result.exit_code == 0
    assert "stopped by the E layer" in " ".join(result.stdout.split())
    if kind == "--more":
        assert "No ray of any layer comes down there" in result.stdout
        assert "no layer carries it on a middling day" in result.stdout
