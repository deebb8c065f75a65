"""What a newcomer types wrong, and what is said; short answers; bands not cut for."""

import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.station.bands import band_by_name
from advisor.station.checks import plain_figure
from advisor.station.file import resolve_station
from advisor.station.station import time_zone
from geo.errors import InputError, near_matches

WHEN = ["--date", "2026-12-05T15:00Z", "--hours", "1"]
HERE = ["--from", "KF07jo", *WHEN]
TWO = """
place = "IO76oi"
power_w = 100
[[setups]]
name = "low dipole"
shape = "dipole"
height_m = 7
bands = ["80 m"]
bearing_deg = 0
[[setups]]
name = "Linked V"
shape = "inverted V"
apex_m = 9
bands = ["40 m", "20 m"]
bearing_deg = 0
"""


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    """A station of two set-ups that have no band in common."""
    path = tmp_path_factory.mktemp("station") / "two.toml"
    path.write_text(TWO, encoding="utf-8")
    return ["--station", str(path), "--to", "within 400 km", *WHEN]


def run(*words):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


def flat(text):
    """Text without its line breaks."""
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--noise", "urban"], "did you mean 'city', 'residential'?"),
        (["--noise", "Suburban"], "did you mean 'residential'?"),
        (["--noise", "countryside"], "did you mean 'rural'?"),
        (["--noise", "rurral"], "did you mean 'rural'"),
        (["--shape", "end-fed"], "did you mean 'end-fed half-wave', 'random wire'?"),
        (["--shape", "loop"], "did you mean 'horizontal loop', 'delta loop'?"),
        (["--ground", "sea"], "did you mean 'sea water'?"),
        (["--band", "14074"], "band '14074' reads as kHz: 20 m; write '14074kHz'"),
        (["--band", "20m,40m"], "names 2: give one each time, --band '20m' --band"),
        (["--band", "14,074"], "write it with a decimal point, 14.074 (20 m)"),
        (["--height-m", "30ft"], "give it in metres, such as 9.14"),
        (["--height-m", "9,1"], "give it in metres, such as 9.1;"),
        (["--height-m", "tall"], "'tall' is not a number: give it in metres;"),
        (["--power-w", "1kW"], "give it in watts, such as 1000"),
        (["--kp", "6,3"], "is not a number: write 6.3"),
        (["--dim", "sag_m=9,1", "--shape", "dipole"], "such as 9.1"),
        (["--geojsn"], "--geojson"),
        (["--heard", "20m KE +500dB"], "500 dB over the noise is outside -40 to 90"),
    ],
)
def test_a_slip_is_told_what_to_write(words, said):
    result = run("tonight", *HERE, "--to", "KE", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("called", "shape"),
    [
        ("EFHW", "end-fed half-wave"), ("long wire", "random wire"),
        ("inverted-vee", "inverted V"), ("inverted v", "inverted V"),
        ("ground plane", "quarter-wave vertical"), ("Doublet", "doublet"),
        ("sky loop", "horizontal loop"),
    ],
)  # fmt: skip
def test_what_people_call_one_shape_only_is_that_shape(called, shape):
    given = {"place": "KF07jo", "setups": [{"name": "wire", "shape": called}]}
    assert resolve_station(None, given)[0].setups[0].shape == shape


@pytest.mark.parametrize(
    "written",
    [
        "5.1,4.2,30,150;14.9,4.2,30,150",
        "[[5.1, 4.2, 30, 150], [14.9, 4.2, 30, 150]]",
        "[5.1, 4.2, 30, 150], [14.9, 4.2, 30, 150]",
    ],
)
def test_traps_may_be_written_as_in_a_station_file(written):
    words = ["--from", "KF07jo", "--shape", "dipole", "--length-m", "20"]
    words += ["--band", "20 m", "--dim", f"traps={written}", "--json"]
    result = run("wire", *words)
    assert result.exit_code == 0, result.stderr
    setup = json.loads(result.stdout)["inputs"]["setups"][0]
    assert setup["traps"] == [[5.1, 4.2, 30.0, 150.0], [14.9, 4.2, 30.0, 150.0]]


def test_a_zone_may_be_called_by_its_city():
    assert time_zone("Rome") == "Europe/Rome"
    assert time_zone("new york") == "America/New_York"
    assert time_zone("Africa/Nairobi") == "Africa/Nairobi"
    with pytest.raises(InputError, match="did you mean 'America/Argentina/Buenos_Air"):
        time_zone("Buenos Aires")
    with pytest.raises(InputError, match="the city it is named after"):
        time_zone("Assisi")


def test_a_height_is_called_as_its_shape_calls_it():
    """The top of an inverted V is its apex, which is not near in spelling."""
    wire = {"shape": "inverted V", "height_m": 8}
    with pytest.raises(InputError, match=r"did you mean 'apex_m'\?"):
        resolve_station(None, {"place": "KF07jo", "setups": [wire]})


def test_an_option_of_other_commands_is_told_as_such():
    said = run("aim", "--geojson").stderr
    assert "'skiplobe aim' has no --geojson: reach, tonight have it" in said
    assert "emission" not in said


def test_frequencies_and_bands_that_are_right_are_taken():
    assert band_by_name("14.074").name == "20 m"
    assert band_by_name("14074 kHz").name == "20 m"
    with pytest.raises(InputError, match="read as kHz, the nearest is 20 m"):
        band_by_name("15000")


def test_figures_in_other_units():
    """The foot, inch and mile of the 1959 agreement: 0.3048 m, 25.4 mm, 1609.344 m."""
    assert plain_figure("100 ft", "m") == "30.5"
    assert plain_figure("1 mile", "km") == "1.61"
    assert plain_figure('2"', "mm") == "50.8"
    assert plain_figure("14074 kHz", "MHz") == "14.074"
    assert plain_figure("1.5kW", "W") == "1500"
    assert plain_figure("30 ft", "W") == plain_figure("a lot", "m") == ""


def test_words_that_mean_another_are_offered_only_where_it_is_allowed():
    meant = {"urban": ("city",)}
    assert near_matches("urban", ["city", "rural"], meant=meant) == (
        "did you mean 'city'?"
    )
    assert near_matches("urban", ["rural"], meant=meant) == "did you mean 'rural'?"


@pytest.mark.slow
@pytest.mark.parametrize("typed", ["linked v", "LINKED V", "linked-v"])
def test_a_set_up_is_found_whatever_its_capitals(two, typed):
    text = run("tonight", *two, "--set-up", typed, "--band", "40m", "--more").stdout
    assert "Linked V: it hangs" in text
    why = run("why", *two[:4], "--at", WHEN[1], "--set-up", typed, "--band", "40m")
    assert "Linked V: hung" in why.stdout


@pytest.mark.slow
def test_not_cut_for_a_band_is_not_closed(two):
    asked = [*two, "--band", "80 m", "--band", "40 m", "--band", "160 m"]
    text = flat(run("tonight", *asked, "--more").stdout)
    assert "No wire here is cut for 160 m." in text
    assert "dB short" not in text.partition("UTC")[0]
    assert "not cut for 160 m, 40 m." in text
    assert "not cut for 160 m, 80 m." in text
    assert "at best 0 " not in text
    answer = json.loads(run("tonight", *asked, "--json").stdout)["answer"][0]
    bands = {each["band"]: each for each in answer["not_open"]}
    assert bands["160 m"]["state"] == "not cut"
    assert bands["160 m"]["short_db"] is None
    assert "40 m" not in bands
    rows = json.loads(run("tonight", *asked, "--json").stdout)["results"]
    best = max(row["chance"] for row in rows if row["band"] == "40 m")
    assert best > 0.5
    assert all(each["chance"] >= best - 0.05 for each in answer["hours"])


@pytest.mark.slow
def test_a_closed_band_is_still_closed():
    """10 m after midnight in winter, of a year of few spots: far over any MUF."""
    when = ["--date", "2026-06-20T01:00Z", "--hours", "1", "--r12", "20"]
    wire = ["--shape", "dipole", "--band", "40m", "--band", "10m", "--power-w", "100"]
    text = run("tonight", "--from", "KF07jo", "--to", "KE", *wire, *when).stdout
    assert "Best: 40 m" in text
    assert "\nNo layer in these hours: 10 m.\n" in text
    assert "not cut for" not in text


@pytest.mark.slow
@pytest.mark.parametrize("command", ["tonight", "aim", "compare", "reach"])
def test_nobody_says_closed_of_a_band_no_wire_is_cut_for(two, command):
    result = run(command, *two, "--band", "160 m")
    assert result.exit_code == 0, result.output
    assert "not cut for" in flat(result.stdout) or "is cut for 160 m" in result.stdout
    assert "nothing opens" not in flat(result.stdout).lower()
    assert "No layer" not in result.stdout


@pytest.mark.slow
def test_nothing_is_drawn_of_a_band_no_wire_is_cut_for(two, tmp_path):
    picture, page = tmp_path / "map.svg", tmp_path / "page.html"
    for words in (
        ["chart", "map", *two, "--output", str(picture)],
        ["tonight", *two, "--sheet", str(page)],
    ):
        result = run(*words, "--band", "160 m")
        assert result.exit_code == 2
        assert "no set-up here is cut for 160 m" in result.stderr
    assert not picture.exists()
    assert not page.exists()


@pytest.mark.slow
@pytest.mark.parametrize("command", ["tonight", "aim", "compare", "reach", "why"])
def test_brief_is_shorter_and_keeps_its_cautions(command):
    hour = ["--at", WHEN[1]] if command == "why" else WHEN
    words = [command, "--from", "KF07jo", *hour, "--shape", "dipole", "--band", "20 m"]
    words += ["--to", "KE"]
    whole, brief = run(*words, "--more").stdout, run(*words, "--brief").stdout
    assert brief.count("\n") < whole.count("\n") - 3
    assert "A figure is the number of days" not in brief
    said = flat(brief).partition("Cautions: ")[2]
    for each in ("power lines", "thunder", "3 m from wire and feed", "skiplobe wire"):
        assert each in said
    assert brief.splitlines()[0] == whole.splitlines()[0]


@pytest.mark.parametrize("form", ["--json", "--csv", "--ecsv"])
def test_brief_is_for_the_text(form):
    result = run("tonight", *HERE, "--brief", form)
    assert result.exit_code == 2
    assert f"--brief is for the text: leave it out with {form}" in result.stderr


@pytest.mark.slow
def test_first_line_says_where_bare_coordinates_are():
    words = ["--shape", "dipole", "--band", "20m", "--to", "KE", "--brief", *WHEN]
    swapped = flat(run("tonight", "--from", "-5.95,56.45", *words).stdout)
    assert "(at sea or on an island, nearest Eastern Africa)" in swapped
    comma = flat(run("tonight", "--from", "56,45", *words).stdout)
    assert "From 56, 45 (in or near Eastern Europe)" in comma


@pytest.mark.slow
def test_figures_of_a_great_storm_are_marked():
    """Any chart of the auroral oval: Oslo is under it in a storm, Nairobi never."""
    words = ["tonight", "--shape", "dipole", "--band", "80m", *WHEN]
    north = [*words, "--from", "59.9,10.7", "--to", "FI"]
    south = [*words, "--from", "-1.3,36.8", "--to", "within 400 km"]

    def doubt(*asked):
        answer = json.loads(run(*asked, "--json").stdout)["answer"][0]
        text = flat(run(*asked, "--more").stdout)
        is_marked = "'?' a figure not to be relied on" in text
        assert (
            is_marked == ("Do not rely on it:" in text) == bool(answer["storm_doubt"])
        )
        return answer["storm_doubt"]

    assert doubt(*north) == doubt(*north, "--kp", "6") == ""
    assert "touches geomagnetic latitude" in doubt(*north, "--kp", "7")
    assert doubt(*south, "--kp", "7") == ""
    for place in (north, south):
        assert "past what the storm curves" in doubt(*place, "--kp", "8")


def test_an_untouched_starter_is_refused_and_a_place_of_ones_own_is_not(tmp_path):
    """It would be answered for a point in the sea."""
    path = tmp_path / "hill.toml"
    run("station", "starter", "--output", str(path))
    refused = run("tonight", "--station", str(path))
    assert refused.exit_code == 2
    assert "place: 'JJ00aa' is the starter's" in refused.stderr
    assert f"{path.name} line" in refused.stderr
    assert run("station", "show", "--station", str(path)).exit_code == 0


def test_questions_broken_off_write_no_file_and_one_line(tmp_path):
    """At the end of the answers, as by Ctrl-D."""
    path = tmp_path / "mine.toml"
    # A process of its own: the runner of click 8.2 knows no end of its input.
    result = subprocess.run(
        [sys.executable, "-m", "advisor", "station", "new", "--output", str(path)],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert result.returncode == 1
    assert not path.exists()
    assert "no more answers, so no file is written" in result.stderr
    assert "Aborted" not in result.stderr


@pytest.mark.slow
def test_a_band_that_nobody_left_out_can_be_asked_about():
    """6 m is no band of the default; a station that names its bands is asked first."""
    told = run("tonight", *HERE, "--to", "KE", "--band", "6 m", "--json")
    assert {row["band"] for row in json.loads(told.stdout)["results"]} == {"6 m"}
    demo = run("tonight", *WHEN, "--band", "6 m")
    assert "not allowed by the station" in demo.stderr


@pytest.mark.slow
def test_why_takes_the_hour_under_either_name():
    words = ["why", "--band", "20 m", "--r12", "60", "--json"]
    one, two = (run(*words, name, WHEN[1]).stdout for name in ("--at", "--date"))
    assert one == two
    assert json.loads(one)["inputs"]


@pytest.mark.slow
def test_a_page_is_of_the_first_emission_and_says_so(tmp_path):
    """Of a file with two, as of the commands that answer for one."""
    file, page = tmp_path / "sent.toml", tmp_path / "it.html"
    words = 'place = "KF07jo"\nto = ["ZA"]\nemission = ["CW", "SSB"]\n'
    words += '[[setups]]\nshape = "dipole"\nheight_m = 8\nbearing_deg = 120\n'
    file.write_text(words, encoding="utf-8")
    asked = ["--station", str(file), "--band", "40m", "--date", "2026-12-05T08:00Z"]
    found = run("tonight", *asked, "--hours", "1", "--sheet", str(page))
    assert found.exit_code == 0, found.stderr
    assert "page or map is for CW, the first of 2 emissions" in found.stderr
    assert page.is_file()
    found = run("reach", *asked, "--hours", "1")
    assert "this is for CW, the first of 2 emissions" in found.stderr
