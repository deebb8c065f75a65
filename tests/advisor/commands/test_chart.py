"""The command that draws a chart: what it writes, says and refuses."""

import re
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.show.charts.gallery import CHARTS

SVG = "{http://www.w3.org/2000/svg}"


def run(*words):
    """Run the chart command."""
    return CliRunner().invoke(main, ["chart", *map(str, words)])


ASKED = [
    "--from", "KF07jo", "--date", "2026-12-05T16:00Z", "--hours", "2",
    "--r12", "60", "--shape", "dipole", "--height-m", "8", "--band", "20 m",
]  # fmt: skip


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path_factory):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))


@pytest.mark.slow
def test_command_writes_the_chart_and_says_what_it_shows(tmp_path):
    """The finding on the screen is the one in the file."""
    file = tmp_path / "bands.svg"
    result = run("bands", *ASKED, "--to", "KE", "--output", file)
    assert result.exit_code == 0, result.output
    root = ElementTree.parse(file).getroot()
    assert root.find(f"{SVG}title").text == result.stdout.strip()
    assert "exists" in run("bands", *ASKED, "--to", "KE", "--output", file).stderr
    before = file.read_bytes()
    again = run("bands", *ASKED, "--to", "KE", "--output", file, "--overwrite")
    assert again.exit_code == 0
    assert file.read_bytes() == before


@pytest.mark.slow
def test_command_refuses_what_it_cannot_draw(tmp_path):
    """One line and exit code 2; a compass takes several targets, others one."""
    file = tmp_path / "x.svg"
    two = ["--to", "KE", "--to", "ZM", "--output", file]
    refused = run("fan", *ASKED, *two)
    assert refused.exit_code == 2
    assert "takes one" in refused.stderr
    assert run("compass", *ASKED, *two).exit_code == 0
    assert run("pie", *ASKED, "--to", "KE", "--output", file).exit_code == 2
    wrong = run("bands", *ASKED, "--to", "KE", "--output", tmp_path / "x.gif")
    assert wrong.exit_code == 2
    assert ".svg" in wrong.stderr
    nowhere = run("bands", *ASKED, "--to", "KE", "--output", tmp_path / "no" / "x.svg")
    assert nowhere.exit_code == 1
    assert "cannot write" in nowhere.stderr
    shown = run("--help").stdout
    for name, chart in CHARTS.items():
        assert re.search(rf"{name}\s+{re.escape(chart.about[:20])}", shown)


@pytest.mark.slow
def test_demonstration_is_called_one(tmp_path):
    """With nothing given the first line says so."""
    result = run(
        "set-ups", "--date", "2026-12-05", "--hours", "1", "--r12", "60",
        "--output", tmp_path / "x.png",
    )  # fmt: skip
    assert result.exit_code == 0
    assert result.stdout.startswith("Demonstration")
