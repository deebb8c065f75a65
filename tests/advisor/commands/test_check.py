"""The command check as a user meets it."""

import gzip
import html
import json
import shlex
from dataclasses import fields
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from advisor.answers.rows.check import CheckRow, Correction
from advisor.cli import main
from advisor.logs.columns import demo_log
from advisor.show.page.check import learned_sections
from advisor.show.text.check import part_columns
from advisor.station.file import demo_station, resolve_station

LOG = demo_log()


@pytest.fixture(autouse=True)
def _alone(tmp_path, monkeypatch):
    """No station file of one's own, and an empty directory."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)


def run(*words):
    """What the command answers."""
    return CliRunner().invoke(main, ["check", *map(str, words)])


@pytest.fixture(scope="module")
def log():
    """The log of the demonstration with two rows that are broken."""
    broken = (
        "2026-10-18T25:00Z,20 m,JO62,heard,x,,-3\n2026-10-18T12:00Z,23 cm,JO62,heard"
    )
    return demo_log().read_text(encoding="utf-8") + broken + ",x,,-3\n"


@pytest.fixture(scope="module")
def answer(log, tmp_path_factory):
    """That log on two bands, told for the usual dipole."""
    file = tmp_path_factory.mktemp("log") / "log.csv"
    file.write_text(log, encoding="utf-8")
    result = run(file, "--power-w", "5", "--json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


@pytest.mark.slow
def test_one_screen_has_the_words_and_the_first_surprises(log, tmp_path):
    file = tmp_path / "log.csv"
    file.write_text(log, encoding="utf-8")
    words = [file, "--power-w", "5"]
    screen, whole = run(*words).stdout, run(*words, "--more").stdout
    assert screen.count("\n") <= 40 < whole.count("\n")
    assert "Told " in screen
    assert "Rows left out: 2 of 222" in screen
    assert screen.count("skiplobe why") == 4 < whole.count("skiplobe why")
    assert "--more" not in whole
    assert set(screen.split("Came, though")[0].splitlines()) <= set(whole.splitlines())


@pytest.mark.slow
def test_what_was_read_and_what_was_not(answer):
    inputs = answer["inputs"]
    assert (inputs["rows"], inputs["names_failures"]) == (220, True)
    assert inputs["place"] == "KF07jo"
    assert answer["broken_rows"] == 2
    assert [each["line"] for each in answer["broken"]] == [222, 223]


@pytest.mark.slow
def test_parts_add_up_to_the_whole(answer):
    whole = answer["results"][0]
    for part in ("band", "hours", "distance", "way"):
        rows = [each for each in answer["results"] if each["part"] == part]
        assert sum(each["tried"] for each in rows) == whole["tried"] == 220
        came = sum(each["tried"] * each["came"] for each in rows) / 220
        assert came == pytest.approx(whole["came"])
    assert sum(each["count"] for each in answer["diagram"]) == 220


@pytest.mark.slow
def test_a_surprise_can_be_asked_why(answer):
    """Its command is taken by 'why' as it stands."""
    words = shlex.split(answer["surprises"][0]["why"])
    assert words[:4] == ["skiplobe", "why", "--power-w", "5"]
    result = CliRunner().invoke(main, [*words[1:], "--json", "--no-cache"])
    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["why"]


@pytest.mark.slow
def test_a_packed_file_is_the_same_and_its_picture_says_what_came(
    tmp_path, log, answer
):
    packed = tmp_path / "log.csv"
    packed.write_bytes(gzip.compress(log.encode(), mtime=0))
    result = run(packed, "--power-w", "5", "--json", "--chart", "came.svg")
    assert json.loads(result.stdout) == answer
    said, came = (10.0 * answer["results"][0][key] for key in ("said", "came"))
    drawn = (tmp_path / "came.svg").read_text(encoding="utf-8")
    assert f"Told {said:.1f} times in ten, came {came:.1f}" in drawn


@pytest.mark.slow
def test_the_demonstration_finds_the_noise_that_was_put_in(tmp_path):
    """Six decibels in what is heard, by docs/studies/build_demo_log.py."""
    result = run("--json", "--sheet", "came.html")
    assert result.exit_code == 0, result.stderr
    found = json.loads(result.stdout)
    (level,) = found["levels"]
    assert level["way"] == "heard"
    assert abs(level["constant_db"] - 6.0) < 3.0 * level["error_db"] < 9.0
    assert found["score_with_levels"]["reliability"] < found["score"]["reliability"]
    # The page says the same, words first, with every surprise to paste.
    page = html.unescape((tmp_path / "came.html").read_text(encoding="utf-8"))
    assert f"{level['constant_db']:.0f} dB weaker than told" in page
    assert page.index("weaker than told") < page.index("<svg")
    assert "skiplobe check --sheet came.html" in page
    asked = [each["why"] for each in found["surprises"]]
    assert len(asked) > 10
    assert all(each in page for each in asked)
    places = [
        (each["came"], each["band"], each["lat_deg"], each["lon_deg"])
        for each in found["surprises"]
    ]
    assert len(set(places)) == len(places)


@pytest.mark.slow
def test_differences_are_of_the_figures_shown(answer):
    """What is read as 0.17 and 0.21 is not told 0.03 apart."""
    given = answer["results"][0] | {"said": 0.174, "came": 0.206, "off": -0.032}
    row = CheckRow(**{each.name: given[each.name] for each in fields(CheckRow)})
    told, came, off = (
        next(c for c in part_columns("all", row) if c.head == head).of(row).text
        for head in ("told", "came", "off")
    )
    assert (told, came, off) == ("0.17", "0.21", "-0.04")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "is no ADIF log"),
        ("nothing,of,the,kind\n", "columns time, band, where, way"),
        ("time,band,where,way\n", "no row could be used, 0 are broken"),
        ("time,band,where,way\nnoon,20 m,KE,heard\n", "the first: time 'noon'"),
    ],
)
def test_a_file_without_a_row_is_refused_with_the_reason(tmp_path, text, why):
    file = tmp_path / "log.csv"
    file.write_text(text, encoding="utf-8")
    result = run(file, "--from", "KF07jo")
    assert result.exit_code == 2
    assert not result.stdout
    assert why in result.stderr


def test_a_place_is_wanted_where_the_file_has_none(tmp_path):
    file = tmp_path / "log.csv"
    rows = "time,band,where,way\n2026-03-02T14:02Z,20 m,KI88,heard\n"
    file.write_text(rows, encoding="utf-8")
    result = run(file)
    assert result.exit_code == 2
    assert "--from" in result.stderr


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--write-to", "new.toml"], "name the station by --learn"),
        (["--learn", "hill.toml", "--station", "dale.toml"], "leave one out"),
        (["--learn", "hill.toml", "--power-w", "5"], "power_w is given by option"),
        (["--learn", "hill.toml", "--write-to", "hill.toml"], "exists"),
    ],
)
def test_what_cannot_be_learned_is_refused(tmp_path, words, why):
    for name in ("hill.toml", "dale.toml"):
        (tmp_path / name).write_text('place = "KF07jo"\n', encoding="utf-8")
    result = run(LOG, *words)
    assert result.exit_code == 2
    assert why in " ".join(result.stderr.split())
    assert (tmp_path / "hill.toml").read_text(encoding="utf-8") == 'place = "KF07jo"\n'


@pytest.mark.slow
def test_what_is_learned_is_written_into_a_new_file(tmp_path, monkeypatch):
    """What there is to learn is told here; tests of it are elsewhere."""
    taught = Correction("noise here", "20 m", "", 5.04, 1.0, 6.0, 0.8, 90, 8, 9)
    monkeypatch.setattr(
        "advisor.answers.verification.check.corrections", lambda *_: (taught,)
    )
    station = demo_station().read_text(encoding="utf-8")
    (tmp_path / "hill.toml").write_text(station, encoding="utf-8")
    words = [LOG, "--learn", "hill.toml", "--write-to", "new.toml"]
    result = run(*words)
    assert result.exit_code == 0, result.stderr
    assert "Written: new.toml is hill.toml with this" in " ".join(result.stdout.split())
    written = (tmp_path / "new.toml").read_text(encoding="utf-8")
    assert written.startswith(station.rstrip())
    known, origins = resolve_station(tmp_path / "new.toml", {})
    assert known.learned.noise_db == (("20 m", 5.0),)
    assert f"learned from {LOG.name}, 2026-10-11" in origins["learned.noise_db"]
    assert (tmp_path / "hill.toml").read_text(encoding="utf-8") == station
    assert run(*words).exit_code == 2


@pytest.mark.parametrize(("spots", "is_told"), [(0, True), (5, False)])
def test_contacts_alone_teach_with_a_warning(spots, is_told):
    taught = Correction("level", "20 m", "wire", -24.0, 3.0, -25.0, 2.0, 67, 31, 67)
    found = SimpleNamespace(
        inputs=SimpleNamespace(spots=spots),
        details=SimpleNamespace(corrections=(taught,)),
    )
    (section,) = learned_sections(found)
    assert any("trust more than some 10 dB" in each for each in section.lines) == (
        is_told
    )
    assert section.tables[0].rows[0][1].text == "-24.0"


def chances(found):
    """Every chance of an answer, wherever it stands."""
    if isinstance(found, dict):
        for key, each in found.items():
            if key == "chance" and isinstance(each, float):
                yield each
            else:
                yield from chances(each)
    elif isinstance(found, list):
        for each in found:
            yield from chances(each)


@pytest.mark.slow
@pytest.mark.parametrize("command", ["tonight", "aim", "compare", "activation", "why"])
def test_every_command_uses_what_was_learned_and_says_so(tmp_path, command):
    """12 dB more noise cannot make a contact likelier, and makes some rarer."""
    plain = 'place = "KF07jo"\n[[setups]]\nshape = "dipole"\nheight_m = 8\n'
    taught = '[learned]\nsource = "log.adi"\nnoise_db = {20m = 12}\nfar_end_db = -3\n'
    words = [command, "--station", "it.toml", "--to", "KE", "--band", "20m", "--json"]
    when = "2026-12-05T17:00Z"
    words += ["--at", when] if command == "why" else ["--date", when, "--hours", "1"]
    told = []
    for text in (plain, plain + taught):
        (tmp_path / "it.toml").write_text(text, encoding="utf-8")
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.stderr
        told.append(json.loads(result.stdout))
    before, after = (list(chances({**each, "inputs": {}})) for each in told)
    assert len(before) == len(after) > 0
    assert all(less <= more + 1e-9 for less, more in zip(after, before, strict=True))
    assert any(less < 0.7 * more for less, more in zip(after, before, strict=True))
    assert "learned" not in told[0]["inputs"]
    learned = {"source": "log.adi", "noise_db": {"20 m": 12.0}, "level_db": {}}
    assert told[1]["inputs"]["learned"] == {**learned, "far_end_db": -3.0}
    said = "With what your log taught (log.adi): noise here 20 m +12 dB; usual far end"
    assert told[1]["inputs"]["assumed"] == [f"{said} -3 dB."]
