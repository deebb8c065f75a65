"""What an answer was made from: everything is named, in every format."""

import hashlib
import io
import json
import re
from importlib.metadata import version

import pandas as pd
import pytest
from click.testing import CliRunner

from advisor.cli import main
from geo.tables import table_root

ASKED = ["--date", "2026-12-05T14:00Z", "--hours", "2"]
HERE = ["--from", "KF07jo", "--to", "KE", "--shape", "dipole", "--height-m", "8"]
ONE_BAND = [*ASKED, "--band", "20m"]
COMMANDS = {
    "tonight": ["tonight", *ONE_BAND],
    "aim": ["aim", *ONE_BAND],
    "compare": ["compare", *ONE_BAND],
    "reach": ["reach", *ONE_BAND],
    "hang": ["hang", *ONE_BAND, "--shape", "dipole"],
    "activation": ["activation", *ONE_BAND, "--set-up", "20 m vertical"],
    "why": ["why", "--at", "2026-12-05T14:00Z"],
    "sky": ["sky", *ASKED],
    "wire": ["wire", "--quick", "--band", "20m"],
    "hops": ["hops", "--at", "2026-12-05T14:00Z", "--from", "KF07jo"],
    "station show": ["station", "show"],
}


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def run(*words):
    """Standard output of a command that must work."""
    result = CliRunner().invoke(main, list(words))
    assert result.exit_code == 0, result.output
    return result.stdout


def origins(made):
    """Value and origin of every input."""
    return {row["key"]: (row["value"], row["origin"]) for row in made["inputs"]}


@pytest.mark.slow
@pytest.mark.parametrize("name", COMMANDS)
def test_text_is_the_same_with_what_it_was_made_from_after_it(name):
    plain = run(*COMMANDS[name])
    told = run(*COMMANDS[name], "--provenance")
    assert told.startswith(plain.rstrip("\n"))
    added = told[len(plain.rstrip("\n")) :]
    assert added.startswith("\n\nMade from\nskiplobe ")
    assert f"package numpy {version('numpy')}" in added
    assert f"package skyfield-data {version('skyfield-data')}" in added
    for path in table_root().iterdir():
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        assert f"sha256 {digest} {path.name}\n" in added
    assert re.search(r"^sha256 [0-9a-f]{64} skyfield-data de421\.bsp$", added, re.M)


@pytest.mark.slow
@pytest.mark.parametrize("name", COMMANDS)
def test_json_has_it_in_its_place_and_the_same_results(name):
    plain = json.loads(run(*COMMANDS[name], "--json"))
    told = json.loads(run(*COMMANDS[name], "--json", "--provenance"))
    more = told.pop("provenance")
    less = plain.pop("provenance")
    assert told == plain
    assert {key: more[key] for key in less} == less
    assert {"packages", "data_sha256", "fetched", "inputs"} == set(more) - set(less)
    assert more["fetched"] is None


@pytest.mark.slow
def test_csv_has_it_in_lines_that_pandas_skips():
    plain = run(*COMMANDS["tonight"], "--csv")
    told = run(*COMMANDS["tonight"], "--csv", "--provenance")
    lines = told.splitlines(keepends=True)
    assert "".join(line for line in lines if not line.startswith("# ")) == plain
    assert lines[0].startswith("# skiplobe ")
    frame = pd.read_csv(io.StringIO(told), comment="#")
    pd.testing.assert_frame_equal(frame, pd.read_csv(io.StringIO(plain)))


@pytest.mark.slow
def test_every_input_has_its_origin(monkeypatch, tmp_path):
    """Option, environment, line of the file, default, table."""
    file = tmp_path / "hill.toml"
    file.write_text('place = "KF07jo"\nnoise = "residential"\nto = ["KE"]\n')
    monkeypatch.setenv("SKIPLOBE_TONIGHT_HOURS", "3")
    words = [
        "tonight",
        "--station",
        str(file),
        "--date",
        "2026-12-05",
        "--power-w",
        "7",
    ]
    made = json.loads(run(*words, "--json", "--provenance"))["provenance"]
    found = origins(made)
    assert found["power_w"] == ("7", "option")
    assert found["noise"] == ("residential", "hill.toml line 2")
    assert found["ground"] == ("average", "default")
    assert found["hours"] == ("3", "environment")
    assert found["date"] == ("2026-12-05T00:00Z", "option")
    value, origin = found["to[0]"]
    assert origin == "station file"
    assert value.startswith("Kenya (ISO KE), 2 sample points weighted by ")
    value, origin = found["solar activity"]
    assert value.startswith("R12 ")
    assert origin == "solar_monthly.ecsv, ionospheric_index.ecsv"
    assert found["setups[0].shape"] == ("dipole", "default")


@pytest.mark.slow
def test_what_was_typed_is_an_option_and_the_clock_the_clock():
    words = ["tonight", *HERE, "--hours", "1", "--flux", "120", "--kp", "5"]
    words += ["--long-path", "--band", "20m", "--provenance", "--json"]
    found = origins(json.loads(run(*words))["provenance"])
    assert found["date"][1] == "clock"
    assert found["solar activity"][1] == "option"
    assert found["path"] == ("the long way", "option")
    assert found["bands"] == ("20 m", "option")
    assert found["to[0]"][1] == "option"
    assert found["assumed"][1] == "option"
    assert found["setups[0].height_m"] == ("8", "option")


@pytest.mark.slow
def test_wires_that_play_no_part_are_not_named():
    """'hang' looks for a wire, 'sky' needs none."""
    for name in ("hang", "sky"):
        made = json.loads(run(*COMMANDS[name], "--json", "--provenance"))["provenance"]
        keys = [row["key"] for row in made["inputs"]]
        assert "place" in keys
        assert not [key for key in keys if key.startswith("setups")]


@pytest.mark.slow
def test_why_names_the_wires_of_the_file_and_its_one_band():
    words = [*COMMANDS["why"], "--set-up", "20 m vertical", "--json", "--provenance"]
    found = origins(json.loads(run(*words))["provenance"])
    assert found["setups[0].name"][0] == "20 m vertical"
    assert found["bands"][0] == "20 m"
    assert found["hours"][0] == "1"


@pytest.mark.slow
def test_a_picture_says_it_on_the_screen(tmp_path):
    words = ["chart", "bands", *ASKED, "--output", str(tmp_path / "bands.svg")]
    text = run(*words, "--provenance")
    assert "Made from\nskiplobe " in text
    assert "input hours = 2 (option)" in text
