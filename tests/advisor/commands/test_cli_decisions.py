"""The commands aim, reach and compare as a user meets them."""

from __future__ import annotations

import csv
import io
import json

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.show.text.one_screen import MOST_LINES, fit_screen

WHEN = ["--date", "2026-12-05", "--hours", "3", "--r12", "60"]
HERE = ["--from", "KF07jo", *WHEN]
WIRE = ["--shape", "dipole", "--height-m", "8", "--band", "20 m", "--band", "40 m"]
COMMANDS = ("aim", "reach", "compare")


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


def read(*words: str):
    """Run the command and read its JSON."""
    result = run(*words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout, parse_constant=lambda _: pytest.fail("not JSON"))


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_demonstration_says_what_it_is(command):
    result = run(command, *WHEN)
    assert result.exit_code == 0
    assert result.stdout.startswith("Demonstration (no station")
    assert "linked dipole" in result.stdout
    assert "nan" not in result.stdout


@pytest.mark.parametrize("command", COMMANDS)
def test_csv_and_json_hold_the_same_rows(command):
    words = [command, *HERE, *WIRE, "--to", "KE"]
    whole = read(*words)
    assert whole["schema_version"] == 1
    assert whole["inputs"]["targets"] == ["Kenya (ISO KE)"]
    assert len(whole["provenance"]["tables_sha256"]) > 5
    table = list(csv.DictReader(io.StringIO(run(*words, "--csv").stdout)))
    assert len(table) == len(whole["results"]) > 0
    for cells, row in zip(table, whole["results"], strict=True):
        assert list(cells) == list(row)
        for key, value in row.items():
            assert cells[key] == ("" if value is None else str(value))


@pytest.mark.parametrize("command", COMMANDS)
def test_same_question_same_bytes(command):
    words = [command, *HERE, *WIRE, "--to", "KE", "--json"]
    assert run(*words).stdout_bytes == run(*words).stdout_bytes


@pytest.mark.parametrize("command", COMMANDS)
def test_answer_goes_to_a_file(command, tmp_path):
    file = tmp_path / "answer.txt"
    words = [command, *HERE, *WIRE, "--to", "KE", "--output", str(file)]
    assert run(*words).stdout == ""
    assert file.read_text().startswith("From KF07jo")
    assert run(*words).exit_code == 2
    assert run(*words, "--overwrite").exit_code == 0


@pytest.mark.slow
def test_aim_and_tonight_name_the_same_bearing():
    words = [*HERE, *WIRE, "--to", "014"]
    turned, there = read("aim", *words), read("tonight", *words)
    ours, theirs = (each["bearing"]["dipole"] for each in (turned, there))
    for key, value in theirs.items():
        assert ours[key] == value, key
    text = run("aim", *words).stdout
    assert f"{ours['best_deg']:03.0f}-" in text
    assert ours["words"].split(":")[0] in " ".join(text.split())
    best = [row for row in turned["results"] if row["is_best"]]
    assert [row["wire_deg"] for row in best] == [ours["best_deg"]]
    # A way at the edge of what is faint counts in one and not in the other.
    assert best[0]["chance"] == pytest.approx(ours["chance"], abs=1e-7)


@pytest.mark.slow
def test_compare_and_tonight_give_the_same_chances():
    """With the demonstration's two set-ups and with weights by operators."""
    for extra in ([], ["--weights", "operators"]):
        ours, theirs = (read(c, *WHEN, *extra) for c in ("compare", "tonight"))
        assert len(ours["results"]) == len(theirs["results"])
        for row, other in zip(ours["results"], theirs["results"], strict=True):
            assert {key: row[key] for key in other} == other
        assert ours["inputs"] == theirs["inputs"]


@pytest.mark.slow
def test_why_and_tonight_agree_with_weights_by_operators():
    words = ["--from", "KF07jo", "--r12", "60", *WIRE[:4], "--band", "20 m"]
    words += ["--to", "014", "--weights", "operators"]
    told = read("why", *words, "--at", "2026-12-05T15:00Z")
    there = read("tonight", *words, "--date", "2026-12-05T15:00Z", "--hours", "1")
    assert told["why"]["whole"]["chance"] == there["results"][0]["chance"]
    land = read("tonight", *words[:-2], "--date", "2026-12-05T15:00Z", "--hours", "1")
    assert land["results"][0]["chance"] != there["results"][0]["chance"]


@pytest.mark.slow
def test_region_of_one_point_gives_why_and_compare_the_figure_of_that_point():
    """Singapore has one sample point."""
    from geo.places import parse_place, resolve_target

    target = resolve_target("SG", parse_place("KF07jo"))
    point = f"{target.lat_deg[0]},{target.lon_deg[0]}"
    words = ["--from", "KF07jo", "--r12", "60", "--shape", "dipole", "--band", "20 m"]
    when = ["--date", "2026-12-05T15:00Z", "--hours", "1"]
    figures = [read("tonight", *words, *when, "--to", "SG")["results"][0]["chance"]]
    for place in ("SG", point):
        rows = read("compare", *words, *when, "--to", place)["results"]
        told = read("why", *words, "--at", when[1], "--to", place)["why"]
        figures += [rows[0]["chance"], told["whole"]["chance"], told["here"]["chance"]]
    assert 0.05 < figures[0] < 1.0
    assert figures == pytest.approx([figures[0]] * len(figures), abs=1e-12)


@pytest.mark.slow
def test_weights_are_said_in_text_and_json():
    words = ["aim", *HERE, *WIRE, "--to", "014"]
    assert "weighted by operators by country" in " ".join(
        run(*words, "--weights", "operators").stdout.split()
    )
    assert "weighted by" not in run(*words).stdout
    far = ["aim", *HERE, *WIRE, "--to", "US"]
    assert "people in its large cities" in " ".join(run(*far).stdout.split())
    assert (
        "from memory" in read(*words, "--weights", "operators")["inputs"]["weights"][0]
    )


@pytest.mark.slow
def test_figures_are_explained_once():
    for command in ("aim", "compare"):
        text = run(command, *WHEN, "--more").stdout
        assert text.count("A figure is the number of days in ten") == 1
    assert (
        run("reach", *WHEN, "--more").stdout.count("Shares are means over the days")
        == 1
    )


@pytest.mark.slow
def test_safety_is_said_where_a_wire_is_hung():
    for command in ("aim", "compare"):
        text = run(command, *WHEN, "--more").stdout
        assert "power lines" in text
        assert "local rules" in text


def test_an_answer_is_cut_to_one_screen_by_whole_blocks():
    """Heading, the block wanted most, what fits; never half a table."""
    table = "\n".join(["UTC", *map(str, range(26))])
    whole = "\n\n".join(
        ["From A.", "Title", table, "Why: 1.\nSo.", "Change:\n2", "Key."]
    )
    shown = fit_screen(f"{whole}\n\nCautions\n  wires: long", ("Change",))
    assert shown.startswith("From A.\n\nTitle\n\nUTC")
    assert "Change:\n2" in shown
    assert shown.count("\n") < MOST_LINES
    assert "thunder" in shown
    assert "wires: long" not in shown
    long = whole.replace(table, f"{table}\n{table}")
    assert "UTC" not in fit_screen(long)
    assert "Title" not in fit_screen(long)
    assert fit_screen("Short.\n\nKey.") == "Short.\n\nKey."


@pytest.mark.slow
def test_several_targets_are_numbered_and_weighed_against_each_other():
    text = run("aim", *HERE, *WIRE, "--to", "014", "--to", "005", "--more").stdout
    assert "(1) Eastern Africa" in text
    assert "(2) South America" in text
    assert "with its own best" in " ".join(text.split()) or "nothing lost" in text
    assert "wo bearings" in text or "One bearing is enough" in text


@pytest.mark.slow
def test_nothing_open_is_an_answer():
    words = ["--from", "KF07jo", "--date", "2026-12-05", "--hours", "2", "--r12", "5"]
    words += ["--shape", "dipole", "--height-m", "4", "--to", "KF19", "--band", "10 m"]
    result = run("aim", *words)
    assert result.exit_code == 0
    assert "on any band and any bearing; least bad " in " ".join(result.stdout.split())
    assert "Nothing opens" in run("compare", *words).stdout
    assert "hardly anything comes down" in run("reach", *words[:-4], *words[-2:]).stdout


def test_reach_of_one_band_is_told_in_full_and_of_several_in_rings():
    text = run("reach", *HERE, "--shape", "dipole", "--band", "40 m").stdout
    assert "verdict" in text
    assert "On 40 m with the sun highest (02Z)" in text
    several = run("reach", *HERE, *WIRE, "--more").stdout
    assert "Skip zone: nearest distance" in several
    rows = read("reach", *HERE, *WIRE)
    assert rows["inputs"]["targets"] == []
    for row in rows["results"]:
        shares = [row[f"share_{name}"] for name in
                  ("near", "mid", "far", "through", "absorbed", "blocked")]  # fmt: skip
        assert sum(shares) == pytest.approx(1.0, abs=1e-9)
    assert set(rows["setups"]["dipole"]["sentences"]) == {"40 m", "20 m"}


def test_reach_towards_a_target_names_it():
    text = run("reach", *HERE, *WIRE, "--to", "KE").stdout
    assert "towards Kenya (ISO KE)" in " ".join(text.split())
    assert "running" in text


BAD = {
    "unknown region": (["--to", "Easter Africa"], "Eastern Afr"),
    "swapped coordinates": (["--from", "147.3,-42.9", "--to", "KE"], "swapped"),
    "unknown weights": (["--to", "KE", "--weights", "people"], "operators"),
    "unknown band": (["--to", "KE", "--band", "11 m"], "11 m"),
    "height zero": (["--to", "KE", "--shape", "dipole", "--height-m", "0"], "0"),
    "no hours": (["--to", "KE", "--hours", "0"], "1 to 72"),
    "flux too low": (["--to", "KE", "--r12", "nan"], "nan"),
    "naive time": (
        ["--to", "KE", "--date", "2026-12-05T18:00"],
        "Z for UTC",
    ),
    "unknown set-up": (["--to", "KE", "--set-up", "tower"], "tower"),
    "storm": (["--to", "KE", "--kp", "12"], "0 to 9"),
    "two formats": (["--to", "KE", "--json", "--csv"], "exclude"),
}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(("words", "says"), BAD.values(), ids=BAD.keys())
def test_bad_input_is_one_clear_line(command, words, says):
    """Exit code 2, nothing on stdout, the value or the cure in the line."""
    result = run(command, *HERE, *words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    assert says in result.stderr.strip().splitlines()[-1]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["live", "--write", ""], "--write names no file"),
        (["hang", "--sketch", "a.svg", "--chart", "a.svg"], "different files"),
    ],
)
def test_a_file_that_is_none_or_named_twice_is_refused(
    words, says, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert says in result.stderr
    assert not list(tmp_path.rglob("*.svg"))


@pytest.mark.parametrize("command", ["aim", "compare"])
def test_no_target_is_refused(command):
    result = run(command, *HERE)
    assert result.exit_code == 2
    assert "--to" in result.stderr


@pytest.mark.slow
def test_antarctica_has_no_operators_by_region_but_is_a_country():
    """One country is spread by area in either case."""
    result = run("aim", *HERE, *WIRE, "--to", "AQ", "--weights", "operators")
    assert result.exit_code == 0


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (["chart", "mapp", "--output", "x.png"], "map"),
        (["tonight", "--weights", "operator"], "operators"),
        (["tonight", "--shape", "efwh"], "end-fed half-wave"),
        (["hang", "--shape", "efwh"], "end-fed half-wave"),
        (["wire", "--shape", "invertd vee"], "inverted V"),
        (["aim", "--noise", "vilage"], "residential"),
        (["aim", "--ground", "salt-watr"], "sea water"),
    ],
)
def test_a_mistyped_choice_is_told_what_was_meant(words, meant):
    result = run(*words)
    assert result.exit_code == 2
    assert f"did you mean '{meant}'" in result.stderr


def test_a_second_wire_by_option_is_not_dropped_without_a_word():
    result = run("compare", *HERE, *WIRE, "--to", "KE", "--shape", "inverted V")
    assert result.exit_code == 2
    assert "--shape is one wire: several stand side by side" in result.stderr
    assert not result.stdout


@pytest.mark.parametrize(
    ("typed", "said"),
    [("NW", "; north-west is 315"), ("south-south-east", "is 157.5"), ("up", "'any'")],
)
def test_a_bearing_by_name_is_told_in_degrees(typed, said):
    result = run("aim", *HERE, *WIRE, "--to", "KE", "--bearing-deg", typed)
    assert result.exit_code == 2
    assert result.stderr.strip().endswith(said)


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (["plan"], "activation"),
        (["listen", "--hours", "2"], "tonight --listen"),
        (["why", "--hour", "12"], "--date"),
    ],
)
def test_other_words_for_a_command_or_option_are_met(words, meant):
    result = run(*words)
    assert result.exit_code == 2
    assert f"did you mean '{meant}'?" in result.stderr
    assert result.stderr.count("\n") == 1
