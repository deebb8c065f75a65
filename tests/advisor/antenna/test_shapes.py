"""Shapes: dimensions in, wires that measure up out."""

import math
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.antenna.feed import resonances_mhz, transformer_names
from advisor.antenna.ground import ground_by_name
from advisor.antenna.line import line_names
from advisor.antenna.shapes import parts
from advisor.antenna.shapes.registry import SHAPES, hang, settle
from advisor.antenna.solver.currents import solve
from advisor.antenna.solver.mesh import build_mesh
from advisor.station.bands import bands_for_region
from geo.errors import InputError

PLANNING_MHZ = [band.planning_mhz for band in bands_for_region(1)]
HUNG = list(SHAPES)
"""Shapes made of wires; one more has a closed form."""
POINTS = [(0.0, 0.0, 1.0), (0.0, 0.0, 9.0), (5.0, 12.0, 7.0)]


def by_default(name, mhz, dimensions=None):
    """Hang a shape with its defaults, giving points where it needs them."""
    points = POINTS if SHAPES[name].takes_points else ()
    return hang(name, mhz, dimensions, points_m=points)


def wire_length_m(hung):
    """Sum up all wires but counterpoise and radials."""
    return sum(
        wire.length_m
        for wire in hung.wires
        if not wire.name.startswith(("radial", "counterpoise"))
    )


@pytest.mark.parametrize("name", HUNG)
def test_every_default_hangs_on_every_band_and_can_be_meshed(name):
    for mhz in PLANNING_MHZ:
        hung = by_default(name, mhz)
        assert hung.shape == name
        assert hung.lowest_m >= 0.05, mhz
        build_mesh(hung.model(), 299.792458 / mhz, over_ground=True)


@pytest.mark.parametrize("name", [n for n, spec in SHAPES.items() if spec.top])
def test_no_default_is_higher_than_a_pole_that_people_have(name):
    """A pole of 12 m: common practice, no source. Only a triangle of 160 m needs more
    for its sides to rise; uprights are as high as they are long."""
    for band in bands_for_region(1):
        tops = [each.height_m for each in by_default(name, band.planning_mhz).supports]
        is_flat = (name, band.name) == ("delta loop", "160 m")
        assert is_flat or max(tops) <= 12.0, band.name


@pytest.mark.parametrize(
    "name", [name for name in HUNG if not SHAPES[name].takes_points]
)
def test_the_wire_is_as_long_as_asked_sag_or_not(name):
    spec = SHAPES[name]
    for sag_m in (0.0, 0.7):
        sizes = {"length_m": 41.3}
        if "sag_m" in spec.dimensions:
            sizes["sag_m"] = sag_m
        hung = by_default(name, 7.1, sizes)
        assert wire_length_m(hung) == pytest.approx(41.3, abs=1e-6)
        assert hung.length_m == pytest.approx(41.3, abs=1e-6)


@pytest.mark.parametrize("name", SHAPES)
def test_a_name_and_its_usual_feed_are_known(name):
    spec = SHAPES[name]
    assert spec.transformer in transformer_names()
    assert spec.line in line_names()
    assert spec.help
    for key, dimension in spec.dimensions.items():
        assert dimension.help
        assert key.endswith("_m") == (dimension.unit == "m")


def test_capitals_and_spaces_do_not_matter():
    assert hang("FREE  wire", 7.1, points_m=POINTS).shape == "free wire"


@pytest.mark.parametrize("name", HUNG)
def test_wires_run_towards_bearing_zero_and_start_where_the_last_ended(name):
    hung = by_default(name, 7.1)
    own = [w for w in hung.wires if not w.name.startswith(("radial", "counterp"))]
    for first, second in pairwise(own):
        assert second.start_m == pytest.approx(first.end_m)
    north = [point[1] for wire in own for point in (wire.start_m, wire.end_m)]
    east = [point[0] for wire in own for point in (wire.start_m, wire.end_m)]
    assert max(north) - min(north) >= max(east) - min(east) - 1e-9


def test_sag_is_a_parabola_below_its_ends(outside):
    hung = hang("dipole", 7.1, {"height_m": 9.0, "sag_m": 1.2})
    assert hung.lowest_m == pytest.approx(7.8)
    heights = [wire.start_m[2] for wire in hung.wires] + [9.0]
    norths = np.array([wire.start_m[1] for wire in hung.wires])
    half = -norths[0]
    for north, height in zip(norths, heights, strict=False):
        assert height == pytest.approx(9.0 - 1.2 * (1.0 - (north / half) ** 2))
    # Textbook sag of a taut wire: length - span = 8 sag^2 / (3 span), less what
    # five points on the parabola cut off, 1/16 of it.
    extra = hung.length_m - 2.0 * half
    expected = 8.0 * 1.2**2 / (6.0 * half) * 15 / 16
    check = outside("a taut wire, 8 sag^2 / (3 span), any textbook", "from memory")
    what, why = "wire that its sag takes [m]", "the next term"
    check.near(what, extra, expected, rel=0.02, why=why)


@given(st.floats(1.0, 50.0), st.floats(-0.9, 0.9), st.floats(0.0, 0.1))
def test_run_gives_back_the_length(length_m, rise_share, sag_share):
    rise_m, sag_m = rise_share * length_m, sag_share * length_m
    run = parts.run_m(length_m, rise_m, sag_m)
    points = parts.sagging((0.0, 0.0, 0.0), (0.0, run, rise_m), sag_m)
    assert parts.path_length_m(points) == pytest.approx(length_m)


def test_inverted_v_is_a_right_triangle_on_each_side():
    sizes = {"length_m": 20.0, "apex_m": 9.0, "end_m": 3.0, "sag_m": 0.0}
    hung = hang("inverted V", 7.1, sizes)
    assert hung.wires[0].start_m == pytest.approx((0.0, -8.0, 3.0))
    assert hung.wires[1].end_m == pytest.approx((0.0, 8.0, 3.0))
    assert hung.feed_point_m == pytest.approx((0.0, 0.0, 9.0))


def test_feedpoints_are_where_they_are_said_to_be():
    dipole = hang("dipole", 7.1, {"length_m": 20.0, "sag_m": 0.0})
    assert dipole.feed_point_m == pytest.approx((0.0, 0.0, 10.0))
    third = hang("dipole", 7.1, {"length_m": 21.0, "feed_share": 1 / 3, "sag_m": 0.0})
    assert third.feed_point_m == pytest.approx((0.0, -3.5, 10.0))
    square = hang("half-square", 7.1, {"height_m": 12.0})
    assert square.feed_point_m == pytest.approx(square.wires[0].end_m)
    assert square.feed_point_m[2] == 12.0
    low = hang("bottom-fed half-square", 7.1, {"height_m": 12.0})
    assert low.feed_point_m == pytest.approx(low.wires[0].start_m)
    assert low.feed_point_m[2] == low.lowest_m
    corner = hang("delta loop", 7.1, {"feed_share": 0.0})
    assert corner.feed_point_m == pytest.approx(corner.wires[0].start_m)
    free = hang("free wire", 7.1, {"feed_share": 0.5}, points_m=POINTS)
    length = 8.0 + math.sqrt(5.0**2 + 12.0**2 + 2.0**2)
    assert free.length_m == pytest.approx(length)
    along = 0.5 * length - 8.0
    assert free.feed_point_m[1] == pytest.approx(12.0 * along / (length - 8.0))


@pytest.mark.parametrize("count", [1, 2, 5])
def test_radials_are_level_even_and_equal(count):
    wires = parts.radials((1.0, 2.0, 0.1), count, 4.0, parts.Conductor())
    assert len(wires) == count
    ends = np.array([wire.end_m for wire in wires]) - (1.0, 2.0, 0.1)
    np.testing.assert_allclose(np.linalg.norm(ends, axis=1), 4.0)
    np.testing.assert_allclose(ends[:, 2], 0.0, atol=1e-12)
    assert ends[0] == pytest.approx((0.0, -4.0, 0.0), abs=1e-9)
    np.testing.assert_allclose(
        ends.sum(axis=0), ends[0] if count == 1 else 0.0, atol=1e-9
    )


@pytest.mark.parametrize("corners", [3, 4, 6])
def test_the_loop_has_equal_sides_and_closes(corners):
    hung = hang("horizontal loop", 7.1, {"length_m": 42.0, "corners_n": corners})
    assert [wire.length_m for wire in hung.wires] == pytest.approx(
        [42.0 / corners] * corners
    )
    assert hung.wires[-1].end_m == pytest.approx(hung.wires[0].start_m)
    assert hung.wires[0].start_m[0] == pytest.approx(0.0, abs=1e-9)
    assert len(hung.tall_supports) == corners


def test_the_delta_loop_closes_with_legs_alike():
    hung = hang("delta loop", 7.1, {"length_m": 42.0, "apex_m": 14.0, "base_m": 3.0})
    base, leg, other = (wire.length_m for wire in hung.wires)
    assert leg == pytest.approx(other)
    assert base + leg + other == pytest.approx(42.0)
    assert leg**2 == pytest.approx(11.0**2 + base**2 / 4.0)


def test_the_conductor_reaches_every_wire():
    thin = parts.Conductor(3e-4, insulation_m=5e-4, insulation_eps_r=2.3)
    hung = hang("inverted L", 3.6, conductor=thin)
    assert {wire.radius_m for wire in hung.wires} == {3e-4}
    assert {wire.insulation_eps_r for wire in hung.wires} == {2.3}


@pytest.mark.parametrize(
    ("name", "sizes", "said"),
    [
        ("dipole", {"height_m": 4.0, "sag_m": 4.0}, "would come to 0.00 m above"),
        ("dipole", {"length_m": 3.0, "sag_m": 2.0}, "cannot bridge"),
        ("inverted V", {"length_m": 10.0, "apex_m": 12.0, "end_m": 1}, "cannot bridge"),
        (
            "inverted V",
            {"length_m": 19.0, "apex_m": 10.0, "end_m": 0.6, "sag_m": 0.0},
            "at 17 degrees",
        ),
        ("sloper", {"length_m": 9.0, "high_m": 12.0, "low_m": 2.5}, "cannot bridge"),
        ("inverted L", {"length_m": 8.0, "height_m": 9.0}, "leaves 0.00 m"),
        ("inverted L", {"height_m": 0.5, "feed_height_m": 1.0}, "raise it above"),
        (
            "half-square",
            {"length_m": 42.2, "top_m": 21.1, "height_m": 6.0},
            "raise the top to 10.56 m",
        ),
        ("half-square", {"length_m": 20.0, "top_m": 20.0}, "leaves nothing"),
        (
            "delta loop",
            {"length_m": 20.0, "apex_m": 13.0, "base_m": 2.5},
            "must open by 40",
        ),
        ("delta loop", {"apex_m": 2.0, "base_m": 3.0}, "set the apex above"),
        ("horizontal loop", {"corners_n": 3.5}, "not a whole number"),
        ("quarter-wave vertical", {"radials_n": 2.5}, "not a whole number"),
        ("dipole", {"heigth_m": 4.0}, "did you mean 'height_m'"),
        ("dipole", {"height_m": 0.0}, "height_m is 0 m and must be 0.01 to 100 m"),
        ("dipole", {"height_m": math.nan}, "height_m is nan m"),
        ("dipole", {"feed_share": 0.0}, "feed_share is 0 and must be 0.05 to 0.95"),
        ("quarter-wave vertical", {"feed_height_m": 0.0}, "must be 0.01 to 100"),
    ],
)
def test_what_does_not_fit_is_refused(name, sizes, said):
    with pytest.raises(InputError, match=said):
        hang(name, 7.1, sizes)


LENGTHY = [name for name in SHAPES if "length_m" in SHAPES[name].dimensions]


@pytest.mark.parametrize("name", LENGTHY)
def test_a_length_alone_is_enough_to_hang_it(name):
    """Whatever is left out follows the length, so that nothing touches the ground."""
    lengths_m = (4.0, 12.5, 24.0, 41.0, 84.0)
    for length_m, lowest_mhz in product(lengths_m, (1.9, 7.1, 28.5)):
        hung = hang(name, lowest_mhz, {"length_m": length_m})
        assert wire_length_m(hung) == pytest.approx(length_m, abs=1e-6)
        build_mesh(hung.model(), 299.792458 / lowest_mhz, over_ground=True)


@pytest.mark.parametrize("name", [n for n in LENGTHY if SHAPES[n].top])
def test_a_length_and_a_height_are_enough_to_hang_it(name):
    """Lower ends, sag and the level top follow what the supports allow."""
    for top_m in (3.0, 6.0, 9.5, 18.0):
        length_m = 1.35 * top_m if name == "inverted L" else 42.0
        hung = hang(name, 7.1, {"length_m": length_m, SHAPES[name].top: top_m})
        assert hung.highest_m == pytest.approx(top_m)
        assert hung.lowest_m >= 0.05, top_m


def test_the_level_top_goes_with_what_was_given():
    """Half of the length; more where the poles are short; a given top stays."""
    only_length = settle("half-square", 7.1, {"length_m": 24.0})
    assert (only_length["top_m"], only_length["height_m"]) == (12.0, 6.6)
    short_poles = settle("half-square", 7.1, {"length_m": 24.0, "height_m": 4.6})
    assert short_poles["top_m"] == 16.0
    top_only = settle("half-square", 7.1, {"top_m": 10.0})
    assert top_only["length_m"] == pytest.approx(
        10.0 + 0.5 * 299.792458 / 7.1, abs=0.01
    )
    both = settle("half-square", 7.1, {"length_m": 24.0, "top_m": 14.0})
    assert both["height_m"] == pytest.approx(0.6 + 5.0)


def test_lower_ends_go_with_the_top_and_the_length():
    assert settle("inverted V", 7.1, {"length_m": 10.0})["end_m"] == 7.5
    assert settle("inverted V", 7.1, {"apex_m": 3.0})["end_m"] == pytest.approx(1.8)
    assert settle("sloper", 7.1, {"length_m": 10.0, "low_m": 3.0})["high_m"] == 9.9
    loop = settle("delta loop", 7.1, {"length_m": 20.0, "apex_m": 13.0})
    assert loop["base_m"] == pytest.approx(13.0 - 0.279 * 20.0, abs=0.01)
    assert settle("end-fed half-wave", 7.1, {"length_m": 10.0})["counterpoise_m"] == 1.0


def test_what_is_not_a_shape_is_refused():
    with pytest.raises(InputError, match="did you mean 'dipole'"):
        hang("dipol", 7.1)
    with pytest.raises(InputError, match="frequency 0"):
        hang("dipole", 0.0)
    with pytest.raises(InputError, match="needs its points"):
        hang("free wire", 7.1)
    with pytest.raises(InputError, match="takes no points"):
        hang("dipole", 7.1, points_m=POINTS)
    with pytest.raises(InputError, match="1 points do not make"):
        hang("free wire", 7.1, points_m=POINTS[:1])
    with pytest.raises(InputError, match="not three finite"):
        hang("free wire", 7.1, points_m=[*POINTS, (0.0, math.inf, 3.0)])
    with pytest.raises(InputError, match=r"would come to 0\.00 m"):
        hang("free wire", 7.1, points_m=[*POINTS, (0.0, 20.0, 0.0)])


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["dipole", "inverted V", "sloper", "quarter-wave vertical"]
)
def test_default_lengths_resonate_near_where_they_are_asked_for(name):
    model = hang(name, 7.1).model()
    frequency_mhz = np.linspace(6.6, 7.6, 11)
    ground = ground_by_name("average")
    z = [solve(model, mhz, ground).z_in_ohm[0] for mhz in frequency_mhz]
    assert resonances_mhz(frequency_mhz, z) == pytest.approx([7.1], rel=0.02)


def test_an_end_fed_half_wave_needs_a_step_down_of_tens():
    z = solve(hang("end-fed half-wave", 7.1).model(), 7.1, ground_by_name("average"))
    assert 1000.0 < z.z_in_ohm[0].real < 6000.0


def test_parts_sit_where_along_the_wire_they_are_put():
    """Counted from where the wire starts, over its bends, without the radials."""
    hung = hang("inverted V", 7.1, {"length_m": 20.0, "sag_m": 0.0})
    coil = hung.loaded(13.0, inductance_h=5e-6, q=100.0).loads[0]
    assert (coil.wire, coil.at_m) == (1, pytest.approx(3.0))
    assert coil.impedance_ohm(7.0) == pytest.approx(
        2 * np.pi * 35.0 * (0.01 + 1j), rel=1e-9
    )
    with pytest.raises(InputError, match=r"which is 20\.00 m long"):
        hung.loaded(20.5, resistance_ohm=50.0)
