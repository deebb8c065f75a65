"""The command line as a user meets it: answers, formats, files and mistakes."""

import csv
import io
import json
import os
import re
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.station.file import resolve_station

HERE = ["--from", "KF07jo", "--date", "2026-12-05", "--hours", "2", "--r12", "60"]
WIRE = ["--shape", "dipole", "--height-m", "8"]
MANY = ["--to", "155", "--to", "053", "--to", "035", "--band", "20 m", "--band", "15 m"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


def refused(*words: str) -> str:
    """Run a command that must be refused with one line and exit code 2."""
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    last = result.stderr.strip().splitlines()[-1]
    if last.startswith("skiplobe: "):
        assert len(result.stderr.strip().splitlines()) == 1
    return last


def test_demonstration_says_what_it_is():
    """With nothing given the shipped scenario runs and the first line says so."""
    words = ["tonight", "--date", "2026-12-05", "--hours", "3"]
    result = run(*words)
    assert result.exit_code == 0
    assert result.stdout.startswith("Demonstration (no station, no place and no target")
    assert "Eastern Africa (M49 014)" in result.stdout
    assert "power lines" in result.stdout
    assert "local rules" in run(*words, "--more").stdout


@pytest.mark.slow
def test_a_day_fits_one_screen():
    """40 lines, the count of lines of the larger half of terminals: our choice."""
    assert run("tonight", "--date", "2026-12-05").stdout.count("\n") <= 40
    two = ["--to", "KE", "--to", "IN", "--date", "2026-12-05"]
    text = run("tonight", "--from", "KF07jo", *WIRE, *two).stdout
    assert text.count("\n") <= 40
    assert text.count("UTC") == 1


@pytest.mark.slow
def test_two_days_fit_one_screen_with_one_key():
    asked = ["--to", "KE", "--band", "20 m", "--date", "2026-12-05", "--hours", "48"]
    text = run("tonight", "--from", "KF07jo", *WIRE, *asked).stdout
    assert text.count("\n") <= 40
    assert text.count("Figures: ") == 1
    assert "20 m at " in text.partition("Figures: ")[2]


@pytest.mark.slow
def test_two_emissions_to_three_targets_fit_one_screen():
    """What never opens is told in its own sentence and has no column."""
    sent = ["--emission", "CW", "--emission", "SSB", "--power-w", "10"]
    asked = ["tonight", "--from", "QN13wt", *WIRE, *MANY, *sent]
    text = run(*asked, "--date", "2026-12-05").stdout
    assert text.count("\n") <= 40
    shut = re.findall(r"(CW|SSB): No band opens", text)
    assert 0 < len(shut) < 6
    heads = text.partition("\nUTC")[2].splitlines()[0]
    assert len(re.findall(r"[ABC] (?:CW|SSB)", heads)) == 6 - len(shut)


@pytest.mark.slow
def test_hours_of_many_targets_are_told_in_runs_that_hold_what_each_hour_does():
    """Targets over a day on one screen, what opens; each figure is that of --more."""
    asked = ["tonight", "--from", "QN13wt", *WIRE, *MANY, "--date", "2026-12-05"]
    text = run(*asked).stdout
    assert text.count("\n") <= 40
    rows = json.loads(run(*asked, "--json").stdout)["results"]
    names = list(dict.fromkeys(row["target"] for row in rows))
    heads, *table = text.partition("\nUTC")[2].splitlines()
    shown = [names["ABC".index(letter)] for letter in heads.split()]
    begins = [line for line in table if re.match(r" \d\d  ", line)]
    hours = [row["utc"][11:13] for row in rows if row["target"] == names[0]]
    hours = list(dict.fromkeys(hours))
    starts = [hours.index(line[1:3]) for line in begins]
    told = 0
    for line, first, last in zip(
        begins, starts, [*starts[1:], len(hours)], strict=True
    ):
        cells = re.split(r"\s{2,}", line.strip())[1:]
        for name, cell in zip(shown, cells, strict=True):
            found = re.match(r"(\d+ m) (\d+)(?:-(\d+))?\*", cell)
            if not found:
                continue
            band, least, most = found.groups()
            days = [max(round(10 * row["chance"]), 1) for row in rows
                    if (row["target"], row["band"]) == (name, band)
                    and row["utc"][11:13] in hours[first:last]]  # fmt: skip
            assert (min(days), max(days)) == (int(least), int(most or least))
            told += 1
    assert told > 6
    assert len(begins) < 24


@pytest.mark.slow
def test_answer_before_table_before_reason_before_cautions():
    """The order a hurried reader wants."""
    text = run("tonight", *HERE, *WIRE, "--to", "KE").stdout
    places = [
        text.index(part) for part in ("Best:", "UTC", "the layers carry it", "Cautions")
    ]
    assert places == sorted(places)


def test_json_is_whole_and_says_what_was_understood():
    """Schema, inputs, provenance, results; NaN is null."""
    result = run("tonight", *HERE, *WIRE, "--to", "KE", "--json")
    whole = json.loads(result.stdout, parse_constant=lambda _: pytest.fail("not JSON"))
    assert whole["schema_version"] == 1
    assert whole["inputs"]["targets"] == ["Kenya (ISO KE)"]
    assert whole["inputs"]["utc_first"] == "2026-12-05T00:00Z"
    assert len(whole["provenance"]["tables_sha256"]) > 5
    assert {"bearing", "cautions", "answer"} <= set(whole)
    first = whole["results"][0]
    assert first["utc"] == "2026-12-05T00:00Z"
    assert 0.0 <= first["chance"] <= 1.0
    assert any(row["margin_db"] is None for row in whole["results"])


def test_csv_and_json_hold_the_same_numbers():
    """One engine, two formats."""
    rows = json.loads(run("tonight", *HERE, *WIRE, "--to", "KE", "--json").stdout)
    table = list(
        csv.DictReader(
            io.StringIO(run("tonight", *HERE, *WIRE, "--to", "KE", "--csv").stdout)
        )
    )
    assert len(table) == len(rows["results"])
    for cells, row in zip(table, rows["results"], strict=True):
        assert float(cells["chance"]) == row["chance"]
        assert cells["limit"] == row["limit"]


@pytest.mark.slow
def test_table_shows_the_chance_of_the_json():
    """The printed figure is the JSON's, in days in ten."""
    words = ["tonight", *HERE, *WIRE, "--to", "KE", "--band", "40 m"]
    rows = json.loads(run(*words, "--json").stdout)["results"]
    lines = run(*words).stdout.splitlines()
    hour = next(line for line in lines if line.startswith(" 00 "))
    assert hour.split()[1].rstrip("*") == str(round(10 * rows[0]["chance"]))


@pytest.mark.slow
def test_local_time_stands_beside_utc():
    """South Africa is two hours ahead, and a day there begins at its own midnight."""
    text = run("tonight", *HERE, *WIRE, "--to", "KE", "--local", "Africa/Johannesburg")
    assert "Johannesburg" in text.stdout
    assert " 22     Sat 00:00" in text.stdout


@pytest.mark.slow
def test_an_offset_is_turned_into_utc():
    """18:30 at +02:00 lies in the hour 16Z."""
    words = ["tonight", "--from", "KF07jo", "--date", "2026-12-05T18:30+02:00"]
    result = run(*words, "--hours", "1", *WIRE, "--to", "KE")
    assert "Sat 5 Dec 2026 16Z to 17Z" in result.stdout


@pytest.mark.slow
def test_several_targets_are_answered_one_after_the_other():
    """Each gets its own table in the whole answer; on one screen they share one."""
    words = ["tonight", *HERE, *WIRE, "--to", "KE", "--to", "within 600 km"]
    for more, tables in ([], 1), (["--more"], 2):
        text = run(*words, *more).stdout
        assert text.count("Best:") + text.count("No band opens") == 2
        assert text.count("\nUTC") == tables
        assert "all round" in text


def test_files_are_written_whole_and_only_replaced_when_asked(tmp_path):
    """An existing file stays; --overwrite replaces it."""
    file = tmp_path / "answer.csv"
    words = ["hops", "--csv", "--output", str(file)]
    assert run(*words).exit_code == 0
    before = file.read_text()
    assert "takeoff_deg" in before
    assert "exists" in refused(*words)
    assert file.read_text() == before
    assert run(*words, "--overwrite").exit_code == 0
    assert sorted(p.name for p in tmp_path.glob("*.*")) == ["answer.csv"]


def test_unwritable_output_is_one_line_and_code_1(tmp_path):
    """A directory that does not exist."""
    result = run("hops", "--output", str(tmp_path / "none" / "x.txt"))
    assert result.exit_code == 1
    assert "cannot write" in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.slow
def test_starter_file_is_a_station(tmp_path):
    """What 'station starter' writes is read; who left its place is not answered."""
    file = tmp_path / "hill.toml"
    assert run("station", "starter", "--output", str(file)).exit_code == 0
    shown = run("station", "show", "--station", str(file), "--power-w", "7")
    assert shown.exit_code == 0
    line = next(x for x in shown.stdout.splitlines() if x.startswith("power_w"))
    assert line.split() == ["power_w", "7", "option"]
    assert "hill.toml line" in shown.stdout
    assert "default" in run("station", "show", "--from", "KF07jo").stdout
    words = ["tonight", "--station", str(file), "--hours", "1", "--date", "2026-12-05"]
    refused = run(*words)
    assert refused.exit_code == 2
    assert "place" in refused.stderr
    assert run(*words, "--from", "KF07jo").exit_code == 0


@pytest.mark.slow
def test_own_station_file_is_found(tmp_path, monkeypatch):
    """A station.toml in the configuration directory is used, and no demonstration."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "skiplobe").mkdir()
    (tmp_path / "skiplobe" / "station.toml").write_text('place = "KG33"\nto = ["ZM"]\n')
    text = run("tonight", "--hours", "1", "--date", "2026-12-05").stdout
    assert "From KG33" in text
    assert "Demonstration" not in text


@pytest.mark.slow
def test_sky_and_hops_show_numbers():
    """The two plain tables, and their JSON."""
    sky = json.loads(run("sky", *HERE, "--json").stdout)
    assert sky["results"][0]["fof2_mhz"] > 1.0
    assert sky["results"][0]["fof1_mhz"] is None
    assert set(sky["sun"]) >= {"ground_rise", "f2_layer_set"}
    hops = json.loads(
        run("hops", "--band", "20 m", "--distance-km", "1500", "--json").stdout
    )
    assert [row["layer"] for row in hops["results"]] == ["E", "E", "F2", ""]
    assert "12 E, 29 F1, 44 F2" in run("hops").stdout


BAD = {
    "unknown region": (
        ["tonight", *HERE, *WIRE, "--to", "Easter Africa"],
        "Eastern Afr",
    ),
    "swapped coordinates": (
        ["tonight", "--from", "147.3,-42.9", "--to", "KE"],
        "swapped",
    ),
    "latitude out of range": (["tonight", "--from", "95,100", "--to", "KE"], "95"),
    "malformed locator": (["tonight", "--from", "KZ99xx", "--to", "KE"], "KZ99xx"),
    "naive local time": (
        ["tonight", "--from", "KF07jo", "--to", "KE", "--date", "2026-12-05T18:00"],
        "write 2026-12-05T18:00Z",
    ),
    "no date": (
        ["tonight", "--from", "KF07jo", "--to", "KE", "--date", "soon"],
        "soon",
    ),
    "height zero": (
        ["tonight", *HERE, "--to", "KE", *WIRE[:2], "--height-m", "0"],
        "0",
    ),
    "height negative": (
        ["tonight", *HERE, "--to", "KE", "--shape", "dipole", "--height-m", "-3"],
        "-3",
    ),
    "height not finite": (
        ["tonight", *HERE, "--to", "KE", "--shape", "dipole", "--height-m", "nan"],
        "nan",
    ),
    "power infinite": (
        ["tonight", *HERE, *WIRE, "--to", "KE", "--power-w", "inf"],
        "inf",
    ),
    "power zero": (["tonight", *HERE, *WIRE, "--to", "KE", "--power-w", "0"], "0"),
    "unknown emission": (
        ["tonight", *HERE, *WIRE, "--to", "KE", "--emission", "FT88"],
        "FT8",
    ),
    "unknown band": (["tonight", *HERE, *WIRE, "--to", "KE", "--band", "11 m"], "11 m"),
    "band not allowed": (
        ["tonight", *HERE, *WIRE, "--to", "KE", "--emission", "SSB", "--band", "30 m"],
        "not allowed",
    ),
    "date before the ephemeris": (
        ["sky", "--from", "KF07jo", "--date", "1850-01-01", "--r12", "50"],
        "1899",
    ),
    "date after the ephemeris": (
        ["sky", "--from", "KF07jo", "--date", "2090-01-01", "--r12", "50"],
        "2053",
    ),
    "date outside the solar table": (
        ["sky", "--from", "KF07jo", "--date", "2045-01-01"],
        "--r12",
    ),
    "R12 not finite": (["sky", "--from", "KF07jo", "--r12", "nan"], "nan"),
    "flux too low": (["sky", "--from", "KF07jo", "--flux", "20"], "60 to 300"),
    "both indices": (["sky", "--from", "KF07jo", "--flux", "90", "--r12", "4"], "one"),
    "no hours": (["sky", "--from", "KF07jo", "--hours", "0"], "1 to 72"),
    "unknown zone": (["sky", *HERE, "--local", "Africa/Nairoby"], "Africa/Nairobi"),
    "no target": (["tonight", "--from", "KF07jo"], "--to"),
    "no place": (["tonight", "--to", "KE"], "no place"),
    "unknown set-up": (["tonight", "--set-up", "linked dipol"], "linked dipole"),
    "bearing not a number": (["tonight", "--bearing-deg", "north"], "north"),
    "hop too long": (["hops", "--distance-km", "5000"], "5000 km"),
    "two formats": (["hops", "--json", "--csv"], "exclude"),
    "missing file": (["tonight", "--station", "nowhere.toml"], "nowhere.toml"),
}


@pytest.mark.parametrize(("words", "says"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_line(words, says):
    """Exit code 2, nothing on stdout, the offending value or the cure in the line."""
    assert says in refused(*words)


def test_unknown_key_in_the_station_file_gets_a_near_match(tmp_path):
    """File, line and key are named."""
    file = tmp_path / "hill.toml"
    file.write_text('place = "KF07jo"\nto = ["KE"]\npowr_w = 5\n')
    line = refused("tonight", "--station", str(file))
    assert "powr_w" in line
    assert "power_w" in line
    assert "line 3" in line


@pytest.mark.slow
def test_answer_in_a_pipe_is_data_only():
    """Talk goes to stderr, so a pipe gets JSON and nothing else."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "advisor", "hops", "--json"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "NO_COLOR": "1"},
    )
    assert json.loads(done.stdout)["results"]
    assert done.stderr == ""


@pytest.mark.slow
def test_a_screen_without_the_letters_gets_question_marks(tmp_path):
    """An ASCII terminal: the answer is shown, not a traceback."""
    file = tmp_path / "s.toml"
    file.write_text('name = "h\u00fctte \u5c71"\nplace = "KF07jo"\n', encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "advisor", "station", "show", "--station", str(file)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"},
    )
    assert "h?tte ?" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["--nonsense"],
        ["nonsense"],
        ["hops", "--nonsense"],
        ["hops", "--distance-km", "far"],
        ["hops", "extra"],
        ["chart"],
        ["tonight", "--hours", "x" * 5000],
        ["tonight", "--from", "KF07jo", "--to", "a\x1b[31m\nb"],
        ["tonight", "--from", "KF07jo", "--to", "\udcff"],
        ["tonight", "--from", "KF07jo", "--to", "KE", "--date", "x" * 5000],
        ["sky", "--from", "KF07jo", "--date", "0001-01-01T00:00+14:00"],
        ["sky", "--from", "KF07jo", "--date", "9999-12-31T23:59-14:00"],
    ],
)
def test_every_mistake_is_one_line(words):
    """Those of click too: no usage text, no control characters, not endless."""
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    assert line.startswith("skiplobe: ")
    assert line.isprintable()
    assert len(line) < 1100


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--from", "95,0,1"], "--from: place '95,0,1' has 3 parts"),
        (["--noise", "loud"], "--noise: 'loud' is not known"),
        (["--far-power-w", "0"], "--far-power-w: 0.0 is not allowed"),
        (["--shape", "inverted V", "--height-m", "0.001"], "--height-m: 0.001 is not"),
        (["--shape", "dipole", "--dim", "cut=x"], "--dim cut: 'x' is not known"),
        (["--shape", "dipole", "--dim", "zz=3"], "--dim zz: there is no such key"),
        (["--shape", "dip"], "--shape: 'dip' is not known (did you mean 'dipole'?)"),
    ],
)
def test_a_wrong_value_is_told_under_the_name_of_its_option(words, says):
    line = refused("tonight", "--from", "KF07jo", "--to", "KE", *words)
    assert line.startswith(f"skiplobe: {says}")


def test_a_file_name_with_a_line_break_is_told_on_one_line(tmp_path):
    result = run("hops", "--output", str(tmp_path / "a\nb.txt"))
    assert result.exit_code == 0
    assert len(result.stderr.splitlines()) == 1


@pytest.mark.parametrize("name", ["n" * 300 + ".txt", "old.txt/x.txt"])
def test_a_name_that_cannot_be_written_is_one_line(tmp_path, name):
    (tmp_path / "old.txt").write_text("kept")
    result = run("hops", "--output", str(tmp_path / name))
    assert result.exit_code in (1, 2)
    (line,) = result.stderr.splitlines()
    assert "cannot write" in line
    assert [path.name for path in tmp_path.iterdir()] == ["old.txt"]


def test_a_link_that_leads_nowhere_is_not_replaced_unasked(tmp_path):
    (tmp_path / "link.txt").symlink_to("nowhere")
    assert "exists" in refused("hops", "--output", str(tmp_path / "link.txt"))
    assert (tmp_path / "link.txt").is_symlink()


NEW = "nowhere\nJN48qm\nlots\n10\ncw\nrural\nEFHW\ninverted V\n9,5\nKE\n"


def test_a_new_station_is_asked_for_until_it_is_right(tmp_path, monkeypatch):
    """Wrong answers are told and asked again; what is there is kept."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    asked = CliRunner().invoke(main, ["station", "new"], input=NEW)
    assert asked.exit_code == 0, asked.output
    # Older runners of click put what is typed there, as a terminal shows it.
    typed = [line.strip() for line in NEW.splitlines()]
    assert {line.strip() for line in asked.stdout.splitlines()} <= set(typed)
    for said in ("neither a locator", "'lots' is not a number", "'end-fed half-wave'?"):
        assert said in asked.stderr
    (written,) = tmp_path.rglob("station.toml")
    station, _ = resolve_station(written, {})
    assert (station.place, station.power_w, station.noise) == ("JN48qm", 10.0, "rural")
    assert (station.emission.name, station.to) == ("CW", ("KE",))
    (wire,) = station.setups
    assert (wire.shape, dict(wire.dimensions)) == ("inverted V", {"apex_m": 9.5})
    before = written.read_bytes()
    again = CliRunner().invoke(main, ["station", "new"], input=NEW)
    assert again.exit_code == 2
    assert "Where are you" not in again.stderr
    assert written.read_bytes() == before


@pytest.mark.parametrize(
    ("option", "begun", "known"),
    [
        ("--shape", "inv", "inverted-V"),
        ("--band", "2", "20m"),
        ("--emission", "ft", "FT8"),
        ("--noise", "quiet", "quiet-rural"),
        ("--ground", "very-d", "very-dry"),
    ],
)
def test_values_are_completed_in_a_form_that_is_read(option, begun, known):
    """What TAB puts in needs no quotes, and the command takes it."""
    command = main.commands["tonight"]
    parameter = next(each for each in command.params if option in each.opts)
    found = parameter.shell_complete(click.Context(command), begun)
    assert known in [each.value for each in found]
    words = ["station", "show", option, known, "--from", "KF07jo"]
    if option != "--band":
        assert CliRunner().invoke(main, words).exit_code == 0


def test_every_command_that_asks_about_an_hour_tells_local_time():
    """One option, one name: what takes ``--date`` takes ``--local``; ``hops`` speaks of
    noon and midnight."""
    asks = [
        command
        for command in main.commands.values()
        if {"start", "r12"} <= {each.name for each in command.params}
        and command.name != "hops"
    ]
    assert len(asks) >= 7
    for command in asks:
        assert "zone" in {each.name for each in command.params}, command.name


@pytest.mark.slow
def test_lines_of_several_targets_keep_their_width():
    """The letter of a target goes into its line, not in front of it."""
    asked = ["--to", "VK", "--to", "JA", "--hours", "1", "--date", "2026-12-12T06:00Z"]
    text = run("tonight", "--from", "RF80", *WIRE, *asked).stdout
    assert "A  To Australia (ISO AU, call sign VK)" in text
    assert max(map(len, text.splitlines())) <= 96
