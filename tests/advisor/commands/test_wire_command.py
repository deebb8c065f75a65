"""`skiplobe wire` as a user meets it: answer first, formats, pictures, mistakes."""

import csv
import io
import json
import math
import re
import xml.etree.ElementTree as ET

import pytest
from click.testing import CliRunner

from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.solver.cache import identity
from advisor.cli import main
from advisor.commands import wire as wire_command

THREE_SIDES = ["--shape", "bottom-fed half-square", "--length-m", "24"]
ONE_BAND = ["--band", "20 m", "--quick"]
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture(autouse=True)
def own_places(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


@pytest.fixture
def cold_cache(monkeypatch, tmp_path):
    """Nothing is solved yet."""
    monkeypatch.setenv("SKIPLOBE_CACHE_DIR", str(tmp_path / "cache"))
    return tmp_path / "cache"


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, ["wire", *words])


def refused(*words: str) -> str:
    """Run a command that must be refused with one line and exit code 2."""
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert len(result.stderr.strip().splitlines()) == 1
    assert result.stderr.startswith("skiplobe: ")
    return result.stderr


def answered(*words: str) -> str:
    """Run a command that must answer."""
    result = run(*words)
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.mark.slow
def test_the_demonstration_says_what_it_is_and_shows_both_set_ups():
    text = answered("--quick", "--more")
    assert text.startswith("Demonstration (no station and no shape given)")
    assert "linked dipole: dipole, cut for each band, over medium dry ground" in text
    assert "20 m vertical: ground-mounted vertical" in text
    assert text.count("\nCautions\n") == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("key", "told", "is_left"),
    [
        ("stake_m=1", "A stake 1 m deep under the feedpoint; no radials", False),
        ("radials_at_m=-0.05", "Radials 5 cm under the ground.", True),
        ("radials_at_m=0.02", "Radials 2 cm above the ground; trodden", True),
    ],
)
def test_what_goes_into_the_soil_is_said(key, told, is_left):
    shape = ("--shape", "quarter-wave vertical", "--dim", key)
    text = answered(*shape, *ONE_BAND, "--quick", "--more")
    assert told in text
    assert ("radials_n 4" in text) is is_left


@pytest.mark.slow
def test_verdict_then_gain_then_feed_then_dimensions_then_cautions():
    """One wire in one line is enough; the order a hurried reader wants."""
    text = answered(*THREE_SIDES, *ONE_BAND, "--more")
    assert text.startswith("No place given: bands of IARU region 1.")
    marks = ["good for", "Gain in dBi", "yardsticks", "Lobes and nulls", "Feed:",
             "How it hangs", "Left to their defaults: top_m 12", "Cautions",
             "power lines", "local rules"]  # fmt: skip
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)
    assert "24.00 m of wire" in text


@pytest.mark.slow
@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_is_shown_within_a_hundred_columns(shape):
    words = ["--shape", shape, *ONE_BAND]
    if SHAPES[shape].takes_points:
        words += ["--dim", "points_m=0,0,1;0,0,7;4,14,7", "--dim", "feed_share=0"]
    text = answered(*words)
    assert max(len(line) for line in text.splitlines()) <= 100
    assert re.search(r"^20 m  (short skip|split|mid range|DX)", text, re.M)


@pytest.mark.slow
def test_low_bands_grounds_and_bearings_are_shown_within_a_hundred_columns():
    text = answered("--shape", "inverted L", "--iaru-region", "2", "--band", "160 m",
                    "--band", "10 m", "--bearing-deg", "35", "--more")  # fmt: skip
    assert max(len(line) for line in text.splitlines()) <= 100
    assert "dB: " in text
    assert "from south-west (fed end) towards north-east: 035 true" in " ".join(
        text.split()
    )
    assert "(true bearings)" in text


@pytest.mark.slow
def test_the_same_question_has_the_same_answer_fetched_or_solved(tmp_path, cold_cache):
    """Byte for byte, cold, warm and without a cache; the cache is where it was put."""
    words = [*THREE_SIDES, "--band", "40 m", "--json"]
    cold = answered(*words)
    files = {path.name.partition("-")[0] for path in cold_cache.iterdir()}
    assert files == {"ground", "solution", "sweep", "exposure"}
    assert answered(*words) == cold
    cold_cache.rename(tmp_path / "elsewhere")
    assert answered(*words, "--no-cache") == cold
    assert not cold_cache.exists()


@pytest.mark.slow
def test_json_holds_sweeps_lobes_and_what_was_understood():
    text = answered(*THREE_SIDES, "--band", "40 m", "--band", "20 m", "--json",
                    "--bearing-deg", "90", "--quick")  # fmt: skip
    whole = json.loads(text, parse_constant=lambda _: pytest.fail("not JSON"))
    assert whole["schema_version"] == 1
    assert whole["inputs"]["ground"] == "average"
    assert whole["inputs"]["setups"][0]["length_m"] == 24.0
    assert len(whole["provenance"]["tables_sha256"]) > 5
    assert whole["cautions"]
    assert [row["band"] for row in whole["results"]] == ["40 m", "20 m"]
    (wire,) = whole["wires"]
    band = wire["bands"][0]
    sweep = band["sweep"]
    assert len(sweep["frequency_mhz"]) == len(sweep["radio_swr"]) >= 7
    row = whole["results"][0]
    assert row["swr_best"] == min(sweep["radio_swr"])
    assert row["resonance_mhz"] is None or row["resonance_mhz"] > 6.0
    turned = [(90.0 + each) % 360.0 for each in band["lobes"]["maxima_deg"]]
    assert band["lobes_true_deg"] == turned
    assert set(band["by_default"]) >= {"top_m", "height_m", "counterpoise_m"}
    zones = ("within_800_km_share", "to_2500_km_share", "beyond_2500_km_share")
    assert sum(row[zone] for zone in zones) == pytest.approx(1.0)


def test_csv_and_json_hold_the_same_numbers():
    words = ["--shape", "dipole", *ONE_BAND]
    (row,) = json.loads(answered(*words, "--json"))["results"]
    (line,) = csv.DictReader(io.StringIO(answered(*words, "--csv")))
    assert list(line) == list(row)
    for key, value in row.items():
        if isinstance(value, float):
            assert float(line[key]) == value
        elif value is None:
            assert line[key] == ""


def test_angles_can_be_chosen():
    text = answered("--shape", "dipole", *ONE_BAND, "--takeoff-deg", "7",
                    "--takeoff-deg", "3", "--csv")  # fmt: skip
    (row,) = csv.DictReader(io.StringIO(text))
    assert "gain_dbi_at_3_deg" in row
    assert "gain_dbi_at_7_deg" in row
    assert "gain_dbi_at_10_deg" not in row
    assert float(row["gain_dbi_at_7_deg"]) > float(row["gain_dbi_at_3_deg"])
    assert "vs vertical" in answered("--shape", "dipole", *ONE_BAND,
                                       "--takeoff-deg", "80")  # fmt: skip


def test_a_wire_by_option_is_cut_for_the_bands_asked_about():
    """A half-wave of 20 m is 150 / 14.1 = 10.6 m; one of 80 m would go on as cord."""
    words = ["--shape", "inverted V", "--quick", "--json", "--band"]
    for band, most_m in (("20 m", 9.5), ("6 m", 3.0)):
        (row,) = json.loads(answered(*words, band))["results"]
        assert row["span_m"] < most_m


@pytest.mark.slow
def test_height_means_the_top_of_any_shape():
    rows = {}
    for shape in ("dipole", "inverted V", "sloper", "end-fed half-wave", "delta loop"):
        text = answered("--shape", shape, "--height-m", "9", *ONE_BAND, "--csv")
        (rows[shape],) = csv.DictReader(io.StringIO(text))
    assert {float(row["top_m"]) for row in rows.values()} == {9.0}
    said = refused("--shape", "half-wave vertical", "--height-m", "9", *ONE_BAND)
    assert "its length says how high it reaches" in said


def test_any_key_of_a_set_up_can_be_given():
    words = ["--shape", "dipole", "--dim", "length_m=15", "--dim", "tuner=false",
             "--dim", "line=none", "--dim", "transformer=4:1"]  # fmt: skip
    (row,) = json.loads(answered(*words, *ONE_BAND, "--json"))["results"]
    assert row["wire_m"] == pytest.approx(15.0)
    assert row["transformer"] == "4:1"
    assert row["line_loss_db"] == 0.0
    assert row["mismatch_loss_db"] > 0.5


@pytest.mark.slow
def test_set_ups_of_a_file_by_name(tmp_path):
    file = tmp_path / "hill.toml"
    file.write_text(
        'place = "KF07jo"\n'
        '[[setups]]\nname = "low"\nshape = "dipole"\nheight_m = 3\nbands = ["40 m"]\n'
        '[[setups]]\nname = "high"\nshape = "dipole"\nheight_m = 12\nbands = ["20 m"]\n'
    )
    text = answered("--station", str(file), "--set-up", "high", "--quick")
    assert "high: dipole" in text
    assert "low: dipole" not in text
    both = answered("--station", str(file), "--quick", "--csv")
    assert [row["setup"] for row in csv.DictReader(io.StringIO(both))] == [
        "low",
        "high",
    ]
    one = answered("--station", str(file), *ONE_BAND, "--csv")
    assert [row["setup"] for row in csv.DictReader(io.StringIO(one))] == ["high"]
    assert "no set-up is used on 15 m" in refused(
        "--station", str(file), "--band", "15m"
    )
    assert "is not used on 20 m" in refused("--station", str(file), "--set-up", "low",
                                            *ONE_BAND)  # fmt: skip


@pytest.mark.slow
def test_pictures_are_written_and_say_what_they_show(tmp_path):
    files = [tmp_path / name for name in ("gain.svg", "swr.png", "sketch.svg")]
    result = run(*THREE_SIDES, *ONE_BAND, "--chart", str(files[0]), "--swr-chart",
                 str(files[1]), "--sketch", str(files[2]))  # fmt: skip
    assert result.exit_code == 0, result.output
    assert result.stderr.count("written: ") == 3
    assert files[1].read_bytes().startswith(PNG)
    for svg, said in ((files[0], "20 m split"), (files[2], "24.00 m of wire")):
        root = ET.fromstring(svg.read_text(encoding="utf-8"))
        title = root.find("{http://www.w3.org/2000/svg}title")
        assert title is not None
        assert said in title.text
    again = [path.read_bytes() for path in files]
    assert "exists" in refused(*THREE_SIDES, *ONE_BAND, "--sketch", str(files[2]))
    answered(*THREE_SIDES, *ONE_BAND, "--chart", str(files[0]), "--swr-chart",
             str(files[1]), "--sketch", str(files[2]), "--overwrite")  # fmt: skip
    assert [path.read_bytes() for path in files] == again


def test_pictures_that_cannot_be_are_refused_before_anything_is_solved(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(
        "advisor.engine.wires.solve_wire", lambda *_: pytest.fail("solved")
    )
    assert "does not end in" in refused(*THREE_SIDES, "--chart", "wire.pdf")
    two = str(tmp_path / "two.svg")
    assert "name it with --set-up" in refused("--chart", two)
    assert "--site: nothing is known of the ground" in refused(*THREE_SIDES, "--site")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--shape", "free wire", "--dim", "points_m=0,0,2;0,10,6;0,10,2;0,0,6",
          "--dim", "feed_share=0.3"], "cross or touch near (0, 5, 4) m"),
        (["--shape", "free wire", "--dim", "points_m=0,0,2;0,10,-1"],
         "would come to -1.00 m above ground"),
        (["--shape", "free wire"], "a free wire needs points_m"),
        (["--shape", "dipole", "--dim", "heigth_m=3"], "did you mean 'height_m'"),
        (["--shape", "dipol"], "did you mean 'dipole'"),
        (["--shape", "dipole", "--dim", "height_m"], "is not KEY=VALUE"),
        (["--shape", "dipole", "--dim", "height_m=high"], "from 0.01 to 100 m"),
        (["--shape", "dipole", "--dim", "shape=sloper"], "give it by --shape"),
        (["--shape", "dipole", "--height-m", "8", "--dim", "height_m=9"], "is given"),
        (["--shape", "inverted V", "--height-m", "8", "--dim", "apex_m=9"],
         "say the same"),
        (["--shape", "dipole", "--dim", "transformer=50:1"], "'50:1' is not known"),
        (["--shape", "dipole", "--length-m", "nan"], "from 0.1 to 400 m"),
        (["--shape", "inverted L", "--height-m", "9"], "leaves 0.00 m"),
        (["--shape", "half-square", "--length-m", "24", "--dim", "top_m=2",
          "--height-m", "6"], "raise the top to 11.01 m"),
        (["--shape", "dipole", "--takeoff-deg", "-1"], "-1 deg is not 0 to 90"),
    ],
)  # fmt: skip
def test_mistakes_are_told_in_one_line(words, said):
    assert said in refused(*words, *ONE_BAND)


def test_json_and_csv_exclude_each_other():
    assert run("--json", "--csv").exit_code == 2


@pytest.mark.slow
def test_a_band_that_does_not_fit_is_named_and_the_rest_shown():
    text = answered("--shape", "inverted L", "--height-m", "9", "--band", "80 m",
                    "--band", "10 m", "--quick")  # fmt: skip
    assert "10 m: not hung: inverted L: 2.65 m of wire" in " ".join(text.split())


def test_progress_is_told_on_stderr_once_it_takes_long(monkeypatch):
    quiet = run("--shape", "dipole", *ONE_BAND)
    monkeypatch.setattr(wire_command, "_PATIENCE_S", -1.0)
    told = run("--shape", "dipole", *ONE_BAND)
    assert told.stderr == "skiplobe wire: dipole, 20 m ...\n"
    assert told.stdout == quiet.stdout


def test_output_goes_to_a_file_whole(tmp_path):
    path = tmp_path / "wire.csv"
    assert (
        answered("--shape", "dipole", *ONE_BAND, "--csv", "--output", str(path)) == ""
    )
    (row,) = csv.DictReader(io.StringIO(path.read_text()))
    assert math.isfinite(float(row["efficiency"]))


def test_station_show_lists_what_was_left_to_defaults():
    words = [
        "station",
        "show",
        "--from",
        "KF07jo",
        "--shape",
        "dipole",
        "--height-m",
        "8",
    ]
    result = CliRunner().invoke(main, [*words, "--json"])
    rows = {row["key"]: row for row in json.loads(result.stdout)["results"]}
    assert rows["setups[0].height_m"]["origin"] == "option"
    assert rows["setups[0].length_m"]["origin"] == "default"
    low, high = re.fullmatch(
        r"([\d.]+) to ([\d.]+), by band", rows["setups[0].length_m"]["value"]
    ).groups()
    # 0.481 wavelengths on 28.3 and 1.84 MHz.
    assert float(low) == pytest.approx(5.10, abs=0.01)
    assert float(high) == pytest.approx(78.37, abs=0.05)
    assert rows["setups[0].transformer"]["value"] == "1:1"
    fixed = CliRunner().invoke(
        main, [*words[:4], *THREE_SIDES, "--dim", "line=none", "--json"]
    )
    rows = {row["key"]: row for row in json.loads(fixed.stdout)["results"]}
    assert rows["setups[0].top_m"]["value"] == "12"
    assert rows["setups[0].line"] == {
        "key": "setups[0].line", "value": "none", "origin": "option",
    }  # fmt: skip


@pytest.mark.slow
def test_tonight_leaves_and_finds_solved_wires(cold_cache):
    words = ["tonight", "--from", "KF07jo", "--to", "KE", "--shape", "dipole",
             "--date", "2026-12-05", "--hours", "1", "--band", "20 m"]  # fmt: skip
    first = CliRunner().invoke(main, words)
    assert first.exit_code == 0, first.output
    kept = {path.name for path in cold_cache.glob("solution-*.npz")}
    assert kept
    assert CliRunner().invoke(main, words).stdout == first.stdout
    assert {p.name for p in cold_cache.glob("solution-*.npz")} == kept
    assert identity("solution", 1.0).startswith("solution\n")
