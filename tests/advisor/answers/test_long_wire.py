"""A band to be on that takes a very long wire is told with its length."""

from types import SimpleNamespace

import numpy as np
import pytest

from advisor.answers.long_wire import long_wire_words
from advisor.station.bands import band_by_name
from advisor.station.setup import build_set_up

BANDS = ("160 m", "80 m", "40 m")


def told(chances, then=(), **wire):
    """What is said of an hour on the best band, by the chances, and then on others."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 8.0, **wire}
    values = {key: value for key, value in wire.items() if value is not None}
    one = SimpleNamespace(
        name="wire",
        works=np.ones(3, bool),
        chance=np.array([[chances] * (1 + len(then))]),
    )
    advice = SimpleNamespace(
        question=SimpleNamespace(
            station=SimpleNamespace(setups=[build_set_up(values, BANDS)]),
            bands=[band_by_name(name) for name in BANDS],
        ),
        best=SimpleNamespace(
            wire=np.zeros((1, 1 + len(then)), int),
            band=np.array([[int(np.argmax(chances)), *then]]),
        ),
        setups=[one],
    )
    return " ".join(long_wire_words(advice, 0))


@pytest.mark.parametrize(
    ("chances", "says", "is_silent_of"),
    [
        ([0.9, 0.84, 0.1], "80 m with", "40 m with"),
        ([0.9, 0.7, 0.1], "160 m takes 7", "80 m with"),
    ],
)
def test_a_long_wire_is_told_with_what_does_as_well(chances, says, is_silent_of):
    """A half-wave of 160 m is 150 / 1.85 = 81 m in air, some 5 % less as wire."""
    words = told(chances)
    assert "160 m takes 7" in words
    assert says in words
    assert is_silent_of not in words


def test_a_wire_that_stands_too_high_is_told_and_one_that_was_given_is_not():
    """A quarter-wave of 80 m is 75 / 3.6 = 21 m in air, some 5 % less as wire."""
    words = told([0.1, 0.9, 0.85], shape="quarter-wave vertical", height_m=None)
    assert "80 m takes 20 m of wire, 20 m high; 40 m with 10 m does 8.5" in words
    given = {"shape": "delta loop", "height_m": None, "apex_m": 15.0}
    assert not told([0.1, 0.1, 0.9], **given)


def test_a_wire_of_usual_length_or_of_one_length_is_not_told_of():
    assert not told([0.1, 0.9, 0.1])
    assert not told([0.9, 0.8, 0.1], length_m=60.0)


def test_a_wire_of_one_length_that_nobody_gave_is_told_if_it_is_very_long():
    """A half-wave fed at its end for 160 m takes some 75 m."""
    end_fed = {"shape": "end-fed half-wave", "height_m": None}
    said = told([0.1, 0.2, 0.9], **end_fed)
    assert "wire is 7" in said
    assert "m of wire, cut for 160 m: less with --length-m or fewer bands." in said
    assert told([0.1, 0.2, 0.9], then=(1, 0), **end_fed) == said
    assert told([0.1, 0.2, 0.9], **end_fed, length_m=60.0) == ""
