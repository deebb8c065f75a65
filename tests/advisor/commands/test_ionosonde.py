"""Files of ionosondes: from the file to the layers."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from advisor import ionosonde_soundings, make_question, make_station
from advisor.cli import main
from advisor.commands import ionosonde
from geo.errors import InputError

HEAD = """# Location: GEO ( 32.4 S    20.8 E ), URSI-Code XX033, NOWHERE
# Time                    CS   foF2 QD   hmF2 QD
"""
FIRST = np.datetime64("2026-12-05T12:00:00")
SKY = ["sky", "--from", "KF07jo", "--date", "2026-12-05T12:00Z", "--hours", "2"]


@pytest.fixture
def table(tmp_path):
    """Write a file of readings each quarter of an hour: hour, foF2 and hmF2."""

    def written(*hours):
        path = tmp_path / "readings.txt"
        rows = [
            f"2026-12-05T{hour:02d}:{minute}:00.000Z 80 {fof2 + add} // {hmf2} //"
            for hour, fof2, hmf2 in hours
            for minute, add in (("00", 0.0), ("15", 0.1), ("30", -5.0), ("45", 0.2))
        ]
        path.write_text(HEAD + "\n".join(rows))
        return path

    return written


def test_an_hour_is_its_median_and_old_hours_are_left_out(table):
    path = table((2, 9.0, 300), (6, 8.0, 300), (12, 7.0, "---"), (14, 6.0, 300))
    found = list(ionosonde.soundings_of((path,), FIRST, 2))
    # Of 8.0, 8.1, 3.0 and 8.2 the third is a trace mistaken.
    assert [each.fof2_mhz for each in found] == [8.1, 7.1]
    assert [each.hmf2_km for each in found] == [300.0, None]
    assert found[0].place.label == "XX033"
    assert found[0].time == np.datetime64("2026-12-05T06:15")


def test_a_program_takes_the_same_table(table):
    """The text of the file in place of its name."""
    path = table((12, 7.0, 290))
    found = ionosonde_soundings(path.read_text(), "2026-12-05T12:00Z", 2)
    assert found == tuple(ionosonde.soundings_of((path,), FIRST, 2))
    question = make_question(
        make_station("KF07jo", setups={"shape": "dipole"}),
        "KE",
        FIRST,
        1,
        soundings=found,
    )
    assert question.conditions.soundings == found


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b"\xff\xfe", "not text"),
        (b"", "no table of an ionosonde"),
        (HEAD.encode(), "no reading to rely on from 2026-12-05T06Z"),
    ],
)
def test_a_file_that_is_none(tmp_path, body, says):
    path = tmp_path / "x.txt"
    path.write_bytes(body)
    with pytest.raises(InputError, match=says):
        list(ionosonde.soundings_of((path,), FIRST, 2))
    with pytest.raises(InputError, match=r"--ionosonde '.*none"):
        list(ionosonde.soundings_of((tmp_path / "none",), FIRST, 2))


def test_a_file_of_nothing_but_slips_is_refused(table):
    with pytest.raises(InputError, match="no reading to rely on"):
        list(ionosonde.soundings_of((table((12, 2.0, 300)),), FIRST, 2))


def test_readings_of_another_day_name_what_the_file_has(table):
    later = FIRST + np.timedelta64(9, "D")
    with pytest.raises(InputError, match="it goes from 2026-12-05T12:00Z to"):
        list(ionosonde.soundings_of((table((12, 7.0, 300)),), later, 2))


@pytest.mark.slow
def test_the_layers_follow_it(table):
    """A quarter of an hour before the reading, at its place, height and all."""
    path = table((12, 7.5, 350))
    result = CliRunner().invoke(main, [*SKY, "--ionosonde", str(path), "--json"])
    assert result.exit_code == 0, result.output
    answer = json.loads(result.stdout)
    row = answer["results"][0]
    assert row["fof2_mhz"] == pytest.approx(7.6, rel=0.04)
    assert row["hmf2_km"] == pytest.approx(350.0, rel=0.02)
    assert "foF2 7.6 MHz at XX033" in answer["inputs"]["assumed"][0]


@pytest.mark.slow
def test_it_is_what_is_typed_by_hand(table):
    """The same reading as an option gives the same critical frequency."""
    path = table((12, 7.5, "---"))
    typed = ["--fof2-now", "7.6@-32.4,20.8@2026-12-05T12:15Z"]
    by_file, by_hand = (
        json.loads(CliRunner().invoke(main, [*SKY, *words, "--json"]).stdout)["results"]
        for words in (["--ionosonde", str(path)], typed)
    )
    assert by_file == by_hand
