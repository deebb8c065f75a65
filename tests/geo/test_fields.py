"""Records that say what their fields are."""

from collections.abc import Mapping
from dataclasses import FrozenInstanceError, field, fields

import pytest

from geo.fields import KEYS, LEFT_OUT, as_mapping, record, sentence_inside


@record
class Hop:
    """
    One hop.

    Attributes
    ----------
    length_km, takeoff_deg : float
        Length and `takeoff` angle; NaN below
        the horizon. [km], [deg]
    mode : str
        MUF goes by it.
    """

    length_km: float
    takeoff_deg: float
    mode: str


@record
class Route(Hop):
    """
    Several hops.

    Attributes
    ----------
    skips : dict of str to float
        By band. [km]
    others : tuple of Hop
        The rest.
    words : str
        Left out where there are none.
    """

    skips: Mapping[str, float] = field(metadata={KEYS: "^skip_"})
    others: tuple[Hop, ...]
    words: str = LEFT_OUT


def about(kind):
    """Metadata of every field by name."""
    return {each.name: dict(each.metadata) for each in fields(kind)}


def test_what_the_docstring_says_is_in_the_fields():
    said = "length and takeoff angle; null below the horizon"
    told = {"description": said, "is_nullable": True}
    assert about(Hop)["length_km"] == told | {"unit": "km"}
    assert about(Hop)["takeoff_deg"] == told | {"unit": "deg"}
    assert about(Hop)["mode"] == {
        "description": "MUF goes by it",
        "unit": "",
        "is_nullable": False,
    }


def test_a_record_built_on_another_has_its_fields_first():
    assert list(about(Route))[:3] == list(about(Hop))
    assert {name: about(Route)[name] for name in about(Hop)} == about(Hop)
    assert about(Route)["skips"][KEYS] == "^skip_"
    assert about(Route)["skips"]["unit"] == "km"


def test_a_mapping_holds_what_is_there_in_order():
    hop = Hop(900.0, 12.0, "1F2")
    route = Route(1800.0, 12.0, "2F2", {"skip_20m_km": 500.0}, (hop,))
    assert list(as_mapping(route).items()) == [
        ("length_km", 1800.0),
        ("takeoff_deg", 12.0),
        ("mode", "2F2"),
        ("skip_20m_km", 500.0),
        ("others", [{"length_km": 900.0, "takeoff_deg": 12.0, "mode": "1F2"}]),
    ]
    told = Route(1.0, 2.0, "", {}, (), "said")
    assert as_mapping({"of": [told]})["of"][0]["words"] == "said"


def test_records_cannot_be_written_to():
    with pytest.raises(FrozenInstanceError):
        Hop(900.0, 12.0, "1F2").mode = "E"


@pytest.mark.parametrize(
    ("text", "inside"),
    [
        ("Height of the wire.", "height of the wire"),
        ("M(3000)F2.", "M(3000)F2"),
        ("UTC to the minute.", "UTC to the minute"),
        ("F2 at noon", "F2 at noon"),
        ("A tenth of it.", "a tenth of it"),
    ],
)
def test_a_sentence_within_another(text, inside):
    assert sentence_inside(text) == inside
