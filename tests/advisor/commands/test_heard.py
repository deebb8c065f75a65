"""What was heard, as it is typed."""

from types import SimpleNamespace

import numpy as np
import pytest

from advisor.commands.heard import receptions, warn_of_faded
from advisor.station.emissions import emission_by_name
from geo.errors import InputError
from geo.places import parse_place

FIRST = np.datetime64("2026-12-05T12:00:00")
QUESTION = SimpleNamespace(
    times=FIRST + np.arange(3).astype("timedelta64[h]"),
    place=parse_place("KF07jo"),
    emission=emission_by_name("CW"),
    station=SimpleNamespace(iaru_region=1, time_zone=None),
)


def read(text, option="heard"):
    """One of them."""
    (found,) = receptions({option: (text,)}, QUESTION)
    return found


@pytest.mark.parametrize(
    ("text", "band", "name", "hour", "ratio"),
    [
        ("15m KE", "15 m", "Kenya", 12, None),
        ("15 m  Kenya", "15 m", "Kenya", 12, None),
        ("20 m AR +5dB 18:30Z", "20 m", "Argentina", 18, 5.0),
        ("20m AR 11:10 UTC -3 dB in 2.5 kHz", "20 m", "Argentina", 11, -3.0),
        ("10m -33.3,26.5 2026-12-05T10:00Z", "10 m", "-33", 10, None),
        ("40m KF15 23Z", "40 m", "KF15", 23, None),
        ("15m beacon 14 13Z", "15 m", "beacon", 13, None),
    ],
)
def test_as_people_type_it(text, band, name, hour, ratio):
    """Band, target, ratio in the emission's bandwidth or its own, hour."""
    found = read(text)
    assert found.band.name == band
    assert name in found.target.name
    assert found.is_beacon == (name == "beacon")
    assert found.time == np.datetime64("2026-12-05T00:00:00") + hour * 3600
    width_hz = 2500.0 if "kHz" in text else QUESTION.emission.bandwidth_hz
    if ratio is None:
        assert found.snr_db_hz is None
    else:
        assert found.snr_db_hz == pytest.approx(ratio + 10 * np.log10(width_hz))


def test_a_time_of_day_is_the_nearest():
    """Two hours before noon is this morning, one in the morning is next night."""
    assert read("20m KE 10:00Z").time == np.datetime64("2026-12-05T10:00:00")
    assert read("20m KE 01:00Z").time == np.datetime64("2026-12-06T01:00:00") - 86400


@pytest.mark.parametrize(
    ("text", "option"),
    [("KE", "heard"), ("15m", "heard"), ("15m Atlantis", "heard"), ("11m KE", "heard"),
     ("40m beacon 14", "heard"), ("15m beacon 19", "heard"),
     ("15m +5dB", "heard"), ("15m KE +5dB", "silent"), ("15m KE 25:00Z", "heard")],
)  # fmt: skip
def test_what_is_not_understood_is_said(text, option):
    """One clear error each."""
    with pytest.raises(InputError):
        read(text, option)


def test_a_place_that_is_none_is_told_with_what_was_typed():
    with pytest.raises(InputError, match="--heard '15m KE loud': target 'KE loud'"):
        read("15m KE loud")


def test_what_tells_nothing_any_more_is_said(capsys):
    """Past nine hours every correlation has faded."""
    for text, warns in (
        ("15m KE 04:00Z", False),
        ("15m KE 02:00Z", True),
        ("15m KE 2026-12-06T00:00Z", True),
    ):
        warn_of_faded((read(text),), QUESTION)
        said = capsys.readouterr().err
        assert ("10 h from the hours asked about" in said) == warns
