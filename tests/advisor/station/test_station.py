"""Station files: what they give, where each value came from, how they fail."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.antenna.ground import ground_names
from advisor.antenna.shapes.registry import SHAPES
from advisor.propagation.noise import environments
from advisor.station.bands import BAND_NAMES
from advisor.station.described import describe
from advisor.station.emissions import EMISSION_NAMES
from advisor.station.file import (
    LARGEST_BYTES,
    demo_station,
    read_station,
    resolve_station,
    starter_toml,
)
from advisor.station.setup import (
    SET_UP_KEYS,
    SetUp,
    build_set_up,
    shape_keys,
)
from advisor.station.station import (
    FAR_END_ANTENNAS,
    FAR_END_KEYS,
    STATION_KEYS,
    SUPPORT_KEYS,
)
from advisor.station.written import station_values
from geo.errors import InputError
from geo.places import parse_place

HERE = 'place = "KF07jo"\n'


def test_the_starter_is_a_valid_station_and_names_every_key():
    """Every key stands in it; those best left out behind a comment mark."""
    station, origins = resolve_station(starter_toml(), {})
    given_keys = set(read_station(starter_toml()).origins)
    given_keys |= set(re.findall(r"^# (\w+) = ", starter_toml(), flags=re.MULTILINE))
    # What is learned is written by 'check --learn', not by hand.
    asked = set(STATION_KEYS) - {"far_end", "learned"}
    assert asked <= given_keys | {"setups", "supports"}
    assert "# [[supports]]" in starter_toml()
    assert set(SUPPORT_KEYS) <= given_keys | {"name"}
    given_keys |= {f"far_end.{name}" for name in given_keys}
    assert {f"far_end.{name}" for name in FAR_END_KEYS} <= given_keys
    assert len(station.setups) >= 3
    given_to_wires = {path.rsplit(".", 1)[-1] for path in origins if "setups" in path}
    assert set(SET_UP_KEYS) <= given_to_wires | given_keys


@pytest.mark.parametrize(
    "names",
    [EMISSION_NAMES, environments(), ground_names(), FAR_END_ANTENNAS, tuple(SHAPES)],
    ids=["emissions", "noise", "ground", "far end", "shapes"],
)
def test_the_starter_names_every_choice(names):
    comments = " ".join(re.findall(r"^#(.*)$", starter_toml(), flags=re.MULTILINE))
    for name in names:
        assert re.search(rf"\b{re.escape(name)}\b", " ".join(comments.split())), name


def test_the_demonstration_is_the_announced_scenario():
    station, origins = resolve_station(demo_station(), {})
    place = parse_place(station.place)
    assert place.lat_deg == pytest.approx(-32.4, abs=0.03)
    assert place.lon_deg == pytest.approx(20.8, abs=0.05)
    assert (station.power_w, station.emission.name) == (10.0, "CW")
    assert (station.noise, station.ground) == ("quiet rural", "medium dry")
    assert station.bands == BAND_NAMES[1:-1]
    assert station.iaru_region == 1
    assert station.to == ("014",)
    dipole, vertical = station.setups
    assert (dipole.shape, dipole.dimensions) == ("dipole", (("height_m", 7.5),))
    assert dipole.cut == "each band"
    assert dipole.is_free_to_turn
    assert dipole.bands == ("40 m", "30 m", "20 m", "15 m", "10 m")
    assert (vertical.shape, vertical.bands) == ("ground-mounted vertical", ("20 m",))
    assert not vertical.is_free_to_turn
    assert origins["place"] == "demo_station.toml line 5"


@pytest.mark.parametrize(
    ("key", "in_file", "by_option"),
    [
        ("name", "a", "b"),
        ("place", "QE37pd", "-1.5,36.5"),
        ("power_w", 5, 50.0),
        ("noise", "city", "quiet rural"),
        ("noise_trim_db", 3, -3.0),
        ("ground", "dry", "land"),
        ("horizon_deg", 5, 1.0),
        ("iaru_region", 2, 3),
        ("time_zone", "Africa/Nairobi", "UTC"),
    ],
)
def test_an_option_wins_over_the_file_and_the_file_over_the_default(
    key, in_file, by_option
):
    content = ("" if key == "place" else HERE) + f"\n{key} = {in_file!r}"
    station, origins = resolve_station(content, {})
    assert getattr(station, key) == in_file
    assert origins[key].startswith("station text line ")
    station, origins = resolve_station(content, {key: by_option})
    assert getattr(station, key) == by_option
    assert origins[key] == "option"
    station, origins = resolve_station(content, {key: None})
    assert getattr(station, key) == in_file
    if key not in ("place", "iaru_region"):
        station, origins = resolve_station(HERE, {})
        assert key not in origins
        assert getattr(station, key) == STATION_KEYS[key].default


def test_the_far_end_is_merged_key_by_key():
    content = HERE + '[far_end]\nantenna = "vertical"\nnoise = "city"'
    station, origins = resolve_station(content, {"far_end": {"noise": "residential"}})
    assert station.far_end.antenna == "vertical"
    assert station.far_end.noise == "residential"
    assert origins["far_end.antenna"] == "station text line 3"
    assert origins["far_end.noise"] == "option"


def test_set_ups_by_option_replace_those_of_the_file():
    wires = [{"shape": "half-wave vertical", "feed_height_m": 1}]
    station, origins = resolve_station(demo_station(), {"setups": wires})
    (only,) = station.setups
    assert dict(only.dimensions) == {"feed_height_m": 1.0}
    assert only.bands == station.bands
    assert origins["setups[0].feed_height_m"] == "option"
    assert not any(path.startswith("setups[1]") for path in origins)
    assert "setups[0].height_m" not in origins


def test_without_a_file_the_rest_is_assumed():
    station, origins = resolve_station(None, {"place": "KF07jo"})
    (wire,) = station.setups
    assert (wire.shape, wire.dimensions) == ("dipole", (("height_m", 8.0),))
    assert wire.is_free_to_turn
    assert station.bands == BAND_NAMES[:-1]
    assert (station.far_end.antenna, station.far_end.noise) == ("usual", "residential")
    assert origins["iaru_region"] == "from the place"
    assert hash(station) == hash(resolve_station(None, {"place": "KF07jo"})[0])


def test_default_bands_are_those_the_emission_is_used_on():
    voice, _ = resolve_station(HERE + 'emission = "SSB"', {})
    assert "30 m" not in voice.bands
    assert "60 m" in voice.bands
    asked, _ = resolve_station(HERE + 'emission = "SSB"\nbands = ["30m"]', {})
    assert asked.bands == ("30 m",)


def test_bands_are_put_in_order_and_told_once():
    station, _ = resolve_station(HERE + 'bands = "20m, 7 MHz, 14.06,80m"', {})
    assert station.bands == ("80 m", "40 m", "20 m")


def test_several_emissions_the_first_counts_most():
    """Bands are those of the narrowest; what is laid out makes the same station."""
    station, _ = resolve_station(HERE + 'emission = ["SSB", "CW"]', {})
    assert station.emission.name == "SSB"
    assert [each.name for each in station.also_sent] == ["CW"]
    assert "30 m" in station.bands
    again, _ = resolve_station(None, station_values(station))
    assert again == station
    one, _ = resolve_station(HERE + 'emission = ["SSB", "CW"]', {"emission": "FT8"})
    assert (one.emission.name, one.also_sent) == ("FT8", ())
    for names in ("[]", '["CW", "Morse"]'):
        with pytest.raises(InputError, match=r"line \d+, emission: .*each once"):
            resolve_station(HERE + f"emission = {names}", {})
    with pytest.raises(InputError, match="each once: 'Morse' is CW"):
        resolve_station(HERE + 'emission = ["CW", "Morse"]', {})


def test_an_emission_of_ones_own():
    content = HERE + "emission = { bandwidth_hz = 500, snr_db = 3 }"
    station, _ = resolve_station(content, {})
    assert station.emission.snr_db_hz == pytest.approx(29.99, abs=0.005)
    assert station.emission.duty_cycle == 1.0


def test_a_target_with_a_comma_is_one_target():
    station, _ = resolve_station(HERE + 'to = "-1.3,36.8"', {})
    assert station.to == ("-1.3,36.8",)


@pytest.mark.parametrize("bearing", ["", 'bearing_deg = "any"'])
def test_a_wire_without_a_bearing_is_free_to_turn(bearing):
    content = HERE + f'[[setups]]\nshape = "dipole"\nheight_m = 7\n{bearing}'
    station, _ = resolve_station(content, {})
    assert station.setups[0].bearing_deg is None
    assert station.setups[0].is_free_to_turn


def test_a_full_circle_is_north():
    wire = build_set_up(
        {"shape": "Dipole", "height_m": 7, "bearing_deg": 360}, ("20 m",)
    )
    assert wire.bearing_deg == 0.0
    assert not wire.is_free_to_turn


@given(
    shape=st.sampled_from(sorted(set(SHAPES) - {"free wire"})),
    height_m=st.floats(0.5, 100.0),
    bearing_deg=st.none() | st.floats(0.0, 359.9),
)
def test_a_set_up_goes_to_a_mapping_and_back(shape, height_m, bearing_deg):
    values = {
        "height_m": height_m,
        "feed_height_m": height_m,
        "line": "none",
        "tuner": False,
        "wire_mm": 1.5,
        "bearing_deg": bearing_deg,
    }
    keys = SET_UP_KEYS | shape_keys(shape)
    own = {name: values[name] for name in values if name in keys}
    wire = build_set_up({"shape": shape, **own}, ("40 m", "20 m"))
    assert isinstance(wire, SetUp)
    assert build_set_up(wire.as_mapping(), ()) == wire
    assert wire.changed(name="other").name == "other"
    assert wire.changed(name=wire.name) == wire


def test_a_changed_set_up_is_checked():
    wire = build_set_up({"shape": "dipole", "height_m": 6}, ("20 m",))
    assert dict(wire.changed(height_m=9).dimensions) == {"height_m": 9.0}
    with pytest.raises(InputError, match=r"height_m: 0 is not allowed"):
        wire.changed(height_m=0)
    with pytest.raises(InputError, match=r"no such key .*did you mean 'height_m'"):
        wire.changed(hieght_m=9)


def test_what_would_change_nothing_is_refused():
    beside = {"shape": "dipole", "line_away_deg": 45.0}
    with pytest.raises(InputError, match="says nothing without choke_ohm"):
        build_set_up(beside, ("20 m",))
    said = build_set_up({**beside, "choke_ohm": 0.0}, ("20 m",))
    assert said.line_away_deg == 45.0


def test_describe_lists_every_value_with_its_origin():
    station, origins = resolve_station(demo_station(), {"power_w": 5})
    rows = describe(station, origins)
    by_path = {path: (value, origin) for path, value, origin in rows}
    assert by_path["power_w"] == ("5", "option")
    assert by_path["horizon_deg"] == ("3", "default")
    assert by_path["iaru_region"] == ("1", "from the place")
    assert by_path["setups[0].bearing_deg"] == ("any", "demo_station.toml line 21")
    assert by_path["far_end.kind"] == ("usual", "demo_station.toml line 15")
    assert set(origins) <= set(by_path)
    assert all(isinstance(cell, str) for row in rows for cell in row)


WIRE = '[[setups]]\nshape = "dipole"\n'


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", r"^no place is given: give it with --from, or as place = in the sta"),
        (
            "powr_w = 3",
            r"^station text line 1, powr_w: there is no such key here \(did you m",
        ),
        ('place = "ZZ99"', r"^station text line 1, place: "),
        ("power_w = 0", r"line 1, power_w: 0 is not allowed: give a number above 0"),
        ("power_w = -1", r"power_w: -1 is not allowed"),
        ("power_w = nan", r"power_w: nan is not allowed"),
        ("power_w = true", r"power_w: True is not allowed"),
        ('power_w = "10"', r"power_w: '10' is not allowed: .* W, without quotes$"),
        ("name = 7", r"name: 7 is not allowed: give text in quotes"),
        ('name = "a\\nb"', r"name: 'a\\nb' is not allowed"),
        ("horizon_deg = inf", r"horizon_deg: inf is not allowed: .* 0 to 60 deg"),
        ('noise = "quite rural"', r"\(did you mean 'quiet rural'.*: give one of city"),
        ('ground = "mud"', r"ground: 'mud' is not known: give one of sea water"),
        ('bands = ["11 m"]', r"bands: no amateur band '11 m'"),
        ("bands = []", r"bands: \[\] is not allowed: give a list of bands"),
        ("iaru_region = 4", r"iaru_region: 4 is not allowed: .* 1, 2 or 3"),
        ('time_zone = "Africa/Nairobbi"', r"did you mean 'Africa/Nairobi'"),
        ('time_zone = "../etc"', r"time_zone: no time zone"),
        ("far_end = 3", r"far_end: 3 is not allowed: give a table with the keys ant"),
        ('[far_end]\nnoize = "city"', r"line 2, far_end.noize: .* \(did"),
        ("emission = { snr_db = 3 }", r"emission: .*needs bandwidth_hz"),
        ("setups = []", r"setups: \[\] is not allowed: give at least one set-up"),
        ("[[setups]]\nheight_m = 3", r"line 1, set-up 1: no shape: give shape = one"),
        ('[[setups]]\nshape = "dipol"', r"line 2, shape of set-up 1: 'dipol' is not"),
        ('[[setups]]\nshape = "free wire"', r"line 1, .* a free wire needs points_m"),
        ('[[setups]]\nshape = "free wire"\npoints_m = [[1, 2]]', r"at least two"),
        (
            WIRE + 'length_m = 20\nheight_m = 7\ncut = "each band"',
            r"leave one of the two out",
        ),
        (WIRE + 'line = "RG58U"', r"line of set-up 1: 'RG58U' is not known"),
        (WIRE + "tuner = 1", r"tuner of set-up 1: 1 is not allowed: give true"),
        (WIRE + "height_m = 0", r"^station text line 3, height_m of set-up 1: 0 is"),
        (WIRE + "height_m = -2", r"height_m of set-up 1: -2 is not allowed"),
        (WIRE + "heigth_m = 2", r"heigth_m of set-up 1: .* \(did you mean 'height_m'"),
        (
            WIRE + 'height_m = 9\nbearing_deg = "north"',
            r"line 4, bearing_deg of set-up 1: 'north' is not allowed: give degrees",
        ),
        (
            '[[setups]]\nshape = "half-wave vertical"\nbearing_deg = 4',
            r"bearing_deg of set-up 1: .* here: allowed are name, shape, bands, c",
        ),
        (
            2 * (WIRE + "height_m = 9\n"),
            r"setups: 2 set-ups are called 'dipole': give each a name of its own",
        ),
        ("power_w = ", r"^station text: this is not TOML: "),
        ("power_w = 1\nnoise = \nx = 1", r"this is not TOML: .*line 2"),
        ("a = " + "[" * 5000, r"this is not TOML: "),
        ("power_w = 0x" + "f" * 5000, r"power_w: a value too long to show is not"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(content, message):
    with pytest.raises(InputError, match=message) as caught:
        resolve_station(content, {})
    assert len(str(caught.value).splitlines()) == 1


def test_options_are_checked_as_a_file_is():
    with pytest.raises(InputError, match=r"^power_w: 0 is not allowed"):
        resolve_station(HERE, {"power_w": 0})
    with pytest.raises(InputError, match=r"^power: there is no such key.*'power_w'"):
        resolve_station(HERE, {"power": 5})


def test_a_file_is_named_in_its_messages(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(HERE + "power_w = 0", encoding="utf-8")
    with pytest.raises(InputError, match=r"^mine\.toml line 2, power_w: 0 is not"):
        resolve_station(path, {})


def test_a_file_with_a_byte_order_mark_and_windows_line_ends_is_read(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HERE.encode() + b"\r\npower_w = 7\r\n")
    assert resolve_station(path, {})[0].power_w == 7.0


@pytest.mark.parametrize("kind", ["missing", "directory", "not text"])
def test_a_file_that_cannot_be_read_is_named(tmp_path, kind):
    path = tmp_path / "mine.toml"
    if kind == "directory":
        path.mkdir()
    elif kind == "not text":
        path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match=r"cannot read station file .*mine\.toml: "):
        read_station(path)


def test_lines_are_found_past_long_texts_and_dotted_keys():
    content = (
        'name = """\n'
        "power_w = 3\n"
        '"""\n'
        "far_end.noise = 'city'  # a comment\n"
        '"power_w" = 0\n'
    )
    with pytest.raises(InputError, match=r"^station text line 1, name: "):
        read_station(content)
    with pytest.raises(InputError, match=r"^station text line 2, power_w: 0"):
        read_station("\n".join(content.split("\n")[3:]))
    assert read_station("far_end.noise = 'city'").origins == {
        "far_end.noise": "station text line 1"
    }


ODD = st.sampled_from(
    [
        "nan",
        "-inf",
        "0",
        "-1",
        "1e999",
        "0x" + "f" * 5000,
        "true",
        "{}",
        "[]",
        "[[]]",
        "[1, 2]",
        "{ a = 1 }",
        "1979-05-27",
        "07:32:00",
        '""',
        '"any"',
        '"\\u0000"',
        '"20 m"',
        '"""',
        "'''",
        "[",
        "]",
        "=",
        "\n",
        "\x00",
        "\u2028",
        "é",
    ]
) | st.text(max_size=4)


@st.composite
def damaged_files(draw):
    """A good station file with lines moved, text cut out and odd values put in."""
    lines = draw(
        st.sampled_from([starter_toml(), demo_station().read_text(encoding="utf-8")])
    ).split("\n")
    for _ in range(draw(st.integers(1, 5))):
        at = draw(st.integers(0, len(lines) - 1))
        damage = draw(st.sampled_from(["value", "insert", "cut", "repeat", "drop"]))
        line = lines[at]
        if damage == "value":
            lines[at] = line.split("=")[0] + "= " + draw(ODD)
        elif damage == "insert":
            column = draw(st.integers(0, len(line)))
            lines[at] = line[:column] + draw(ODD) + line[column:]
        elif damage == "cut":
            column = draw(st.integers(0, len(line)))
            lines[at] = line[:column] + line[column + draw(st.integers(1, 5)) :]
        elif damage == "repeat":
            lines.insert(draw(st.integers(0, len(lines))), line)
        elif len(lines) > 1:
            del lines[at]
    return "\n".join(lines)


@pytest.mark.slow
@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(damaged_files())
def test_a_damaged_file_is_a_station_or_one_line_of_error(content):
    refusal = "one line"
    try:
        station, origins = resolve_station(content, {})
    except InputError as error:
        refusal = str(error)
    else:
        assert describe(station, origins)
        assert station.power_w > 0
        assert all(each.shape in SHAPES for each in station.setups)
    assert len(refusal.splitlines()) == 1
    assert len(refusal) < 600


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["20 m", "dipole", "any", "city", "CW", "KF07jo", "UTC"])
    | st.dates(),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from([*STATION_KEYS, *SET_UP_KEYS, "height_m", "antenna", "x"]),
            inner,
            max_size=4,
        )
    ),
    max_leaves=8,
)


@pytest.mark.slow
@settings(max_examples=150)
@given(st.dictionaries(st.sampled_from([*STATION_KEYS, "x"]), ANYTHING, max_size=4))
def test_any_values_are_a_station_or_one_line_of_error(overrides):
    refusal = "one line"
    try:
        resolve_station(demo_station(), overrides)
    except InputError as error:
        refusal = str(error)
    assert len(refusal.splitlines()) == 1


def test_a_file_that_is_no_station_file_is_not_read_to_its_end(tmp_path):
    """A film, or a device that never ends."""
    film = tmp_path / "film.toml"
    film.write_bytes(b"#" * (LARGEST_BYTES + 1))
    for path in (film, Path("/dev/zero")):
        with pytest.raises(InputError, match=r"is over 64 kB: .* starter'"):
            read_station(path)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_line_end_will_do_and_lines_are_counted_right(tmp_path, end):
    file = tmp_path / "hill.toml"
    file.write_bytes(end.join(['place = "KF07jo"', "power_w = 5", ""]).encode())
    assert read_station(file).origins["power_w"] == "hill.toml line 2"


def test_an_option_may_be_named_in_the_users_words():
    with pytest.raises(InputError, match=r"^--power-w: 0 is not allowed"):
        resolve_station(None, {"place": "KF07jo", "power_w": 0}, lambda _: "--power-w")
    two = [{"shape": "dipole"}, {"name": "b", "shape": "dipole", "height_m": 0}]
    with pytest.raises(InputError, match=r"^height_m of set-up 2: 0 is not allowed"):
        resolve_station(None, {"place": "KF07jo", "setups": two})


@pytest.mark.parametrize(
    "text", ["a{} = 1", "[a{}]", "[[a{}]]", "far_end = {{ a{} = 1 }}", "x = 1 # {}"]
)
def test_keys_of_a_thousand_parts_are_refused_at_once(text):
    """TOML's reader would take minutes; a long list of numbers is no such key."""
    with pytest.raises(InputError, match=r"line 2: more than 40 dots are in one key"):
        read_station("\n" + text.format(".a" * 1000))
    points = [[0.5 * n, 0.0, 8.0] for n in range(300)]
    wire = f'shape = "free wire"\npoints_m = {points}\nbands = ["20 m"]'
    assert read_station(f"[[setups]]\n{wire}").values["setups"]


def test_the_name_of_a_file_cannot_talk_to_a_terminal(tmp_path):
    """It is told as the origin of every value."""
    file = tmp_path / "a\x1b]0;pwned\x07.toml"
    file.write_text("power_w = 5")
    assert read_station(file).origins == {"power_w": r"a\x1b]0;pwned\x07.toml line 1"}
