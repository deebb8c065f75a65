"""Rays in closed form against integrations done apart, textbook forms and limits."""

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from advisor.propagation.muf import apart_mhz
from geo.ionosphere import rays as rays_module
from geo.ionosphere.hops import hop_length_km, ray_path_km, sec_incidence
from geo.ionosphere.profile import layered_profile, single_layer
from geo.ionosphere.rays import (
    barriers,
    critical_deg,
    drawn,
    inside,
    trace,
)

EARTH_KM = 6371.0
NAN = float("nan")

INTEGRATED = (
    "Hamilton's ray equations (Haselgrove 1955), integrated step by step: 8th-order "
    "Runge-Kutta, relative tolerance 1e-11"
)

# Layer, MHz, take-off angle; ground range, group path, phase path, apogee; piece.
RAYS = [
    ("A", 14.1, 12, 1788.931, 1882.408, 1807.667, 148.485, 1),
    ("A", 14.1, 18, 2124.545, 2340.172, 2139.928, 239.673, 4),
    ("A", 14.1, 4, 1577.953, 1603.748, 1599.694, 96.906, 0),
    ("A", 5, 30, 349.110, 409.652, 398.741, 96.850, 0),
    ("A", 5, 50, 365.443, 584.893, 410.415, 139.891, 1),
    ("A", 5, 80, 142.289, 856.453, 318.727, 207.346, 3),
    ("A", 7.1, 10, 890.081, 916.580, 914.834, 92.593, 0),
    ("A", 7.1, 20, 542.725, 586.929, 578.219, 97.395, 0),
    ("A", 7.1, 32, 689.925, 837.208, 710.464, 142.713, 1),
    ("A", 7.1, 50, 626.245, 1020.854, 676.000, 236.894, 4),
    ("A", 7.1, 57, 562.700, 1089.416, 636.216, 260.365, 5),
    ("A0", 7.1, 32, 711.814, 864.275, 729.998, 145.032, 1),
    ("B", 14.1, 12, 2090.128, 2214.848, 2123.355, 199.144, 5),
    ("B", 14.1, 25, 991.848, 1135.209, 1071.092, 213.780, 5),
    ("B", 14.1, 3, 3069.349, 3147.386, 3093.603, 132.502, 1),
    ("B", 21.1, 5, 2711.757, 2806.628, 2763.727, 204.576, 5),
    ("B", 28.1, 3, 3149.357, 3253.374, 3211.629, 219.155, 5),
    ("B", 7.1, 10, 931.312, 959.705, 956.157, 94.965, 0),
    ("B", 7.1, 35, 836.592, 1061.631, 866.234, 198.400, 4),
    ("B", 7.1, 60, 277.522, 575.517, 463.142, 209.204, 5),
    ("C", 3.6, 15, 1621.449, 1743.459, 1704.434, 244.438, 5),
    ("C", 3.6, 45, 537.956, 794.128, 737.713, 259.746, 5),
    ("C", 3.6, 80, 114.743, 694.844, 539.768, 282.892, 5),
    ("C", 7.1, 15, 1665.040, 1795.267, 1765.625, 259.787, 5),
    ("C", 7.1, 26, 1257.235, 1470.759, 1380.823, 285.755, 5),
    ("C", 7.1, 29.5, 1418.739, 1731.572, 1522.201, 308.355, 5),
    ("C", 7.1, 3, 3089.929, 3194.029, 3174.294, 250.224, 5),
    ("D", 5.3, 20, 1366.538, 1505.506, 1386.245, 174.628, 2),
    ("D", 7.1, 15, 2118.393, 2286.470, 2146.791, 225.444, 5),
    ("D", 7.1, 4, 1699.329, 1729.330, 1721.602, 101.033, 0),
    ("D", 7.1, 41, 844.565, 1180.089, 957.023, 275.050, 5),
    ("H", 14.1, 40, 803.450, 1107.156, 1008.538, 314.004, 5),
    ("H", 21.1, 10, 2288.568, 2425.504, 2401.718, 290.998, 5),
    ("H", 28.1, 13, 2417.913, 2620.554, 2539.958, 327.220, 5),
]

# Layer, MHz; steepest angle turned by E, by the F1 node or lower, by F2. [deg]
CRITICAL = [
    ("A", 7.1, 27.3415, 40.6456, 57.7652),
    ("A", 14.1, 9.5682, 14.5958, 20.0295),
    ("B", 14.1, 1.4372, 9.7541, 36.7611),
    ("C", 7.1, 0.0, 0.0, 29.8238),
    ("D", 7.1, 6.1727, 12.8596, 42.0770),
    ("H", 28.1, 0.0, 0.0, 16.7495),
]

seeds = st.integers(0, 2**32 - 1)
slow = settings(max_examples=40, deadline=None)


@pytest.mark.parametrize("ray", RAYS, ids=lambda r: f"{r[0]}-{r[1]}-{r[2]}")
def test_rays_of_the_check_table(outside, example, ray):
    check = outside(INTEGRATED, "worked apart")
    name, frequency, takeoff, *expected, piece = ray
    ours = trace(example[name], frequency, takeoff)
    for what, one, other in zip(
        ("ground range", "group path", "phase path", "apogee"),
        (ours.ground_km, ours.group_km, ours.phase_km, ours.apogee_km),
        expected,
        strict=True,
    ):
        check.near(f"{what} [km]", one, other, abs=0.01, why="printed to 0.001 km")
    check.equal("piece of the profile that turns the ray", int(ours.piece), piece)


@pytest.mark.parametrize(("name", "frequency", "e", "f1", "f2"), CRITICAL)
def test_critical_elevations(outside, example, name, frequency, e, f1, f2):
    check = outside("least mu r over height, looked for step by step", "worked apart")
    ours = critical_deg(example[name], frequency)[[0, 1, 3]]
    check.near(
        "critical elevations of E, F1 node and F2 [deg]", ours, [e, f1, f2],
        abs=0.01, why="printed to 0.0001 deg",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "frequency", "ground"), [("C", 7.1, 3701.8), ("B", 21.1, 3760.0)]
)
def test_longest_hops(outside, example, name, frequency, ground):
    check = outside(INTEGRATED, "worked apart")
    ours = trace(example[name], frequency, 0.0).ground_km
    check.near("hop along the ground [km]", ours, ground, abs=0.06, why="printed so")


@pytest.mark.slow
@slow
@given(seed=seeds, frequency=st.floats(1.8, 30.0), takeoff=st.floats(0.5, 89.0))
def test_random_rays_are_those_of_a_quadrature(
    random_profile, integrated, seed, frequency, takeoff
):
    """Our own integration over the index of refraction, piece by piece."""
    profile = random_profile(np.random.default_rng(seed))
    ours = trace(profile, frequency, takeoff)
    other = integrated(profile, frequency, takeoff)
    # A ray that all but gets through is beyond a quadrature.
    nearest = np.abs(critical_deg(profile, frequency) - takeoff).min()
    assume(nearest > 1e-3)
    if other is None:
        assert np.isnan(ours.ground_km)
        assert ours.piece == -1
        return
    ground, group, phase, apogee = other
    assert ours.apogee_km == pytest.approx(apogee, abs=1e-4)
    assert ours.ground_km == pytest.approx(ground, abs=0.01)
    assert ours.group_km == pytest.approx(group, abs=0.01)
    assert ours.phase_km == pytest.approx(phase, abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "frequency", "takeoff"),
    [("A", 7.1, 50.0), ("C", 7.1, 29.5), ("B", 21.1, 5)],
)
def test_the_whole_hop_is_the_same_up_and_down(example, name, frequency, takeoff):
    """
    Hamilton's equations from the ground up and down again, nothing taken as given.

    dr = p dt, dtheta = K/r^2 dt, dp = (K^2/r^3 + mu mu') dt, where t is the group
    path. The ray comes down as steep as it went up, where the closed form says.
    """
    profile = example[name]
    k = EARTH_KM * np.cos(np.radians(takeoff))
    edges = profile.edge_km()

    def index_square(height):
        return 1.0 - (float(profile.plasma_mhz(height)) / frequency) ** 2

    def step(_, state):
        r, _, p = state
        h, eps = r - EARTH_KM, 1e-4
        slope = (index_square(h + eps) - index_square(h - eps)) / (2.0 * eps)
        return [p, k / r**2, k**2 / r**3 + 0.5 * slope]

    def landed(_, state):
        return state[0] - EARTH_KM

    landed.terminal, landed.direction = True, -1.0
    start = [EARTH_KM + 1e-9, 0.0, np.sin(np.radians(takeoff))]
    found = solve_ivp(
        step, (0.0, 6000.0), start, method="DOP853", rtol=1e-9, atol=1e-9, max_step=5.0,
        events=landed,
    )  # fmt: skip
    r, theta, p = found.y[:, -1]
    ours = trace(profile, frequency, takeoff)
    assert edges[-1] > ours.apogee_km
    assert EARTH_KM * theta == pytest.approx(ours.ground_km, abs=0.02)
    assert found.t[-1] == pytest.approx(ours.group_km, abs=0.02)
    assert np.degrees(np.arcsin(-p)) == pytest.approx(takeoff, abs=1e-3)
    assert r == pytest.approx(EARTH_KM, abs=1e-6)


@pytest.mark.parametrize("takeoff", [2.0, 15.0, 35.0, 60.0])
def test_one_layer_is_the_published_closed_form(outside, takeoff):
    """The logarithms as they were printed for one quasi-parabolic layer."""
    check = outside("Croft and Hoogasian, Radio Science 3, 69 (1968)", "from memory")
    fo, height, semi, frequency = 6.0, 300.0, 90.0, 6.5
    ratio, beta = frequency / fo, np.radians(takeoff)
    rm, rb = EARTH_KM + height, EARTH_KM + height - semi
    a = 1.0 - 1.0 / ratio**2 + (rb / (ratio * semi)) ** 2
    b = -2.0 * rm * rb**2 / (ratio * semi) ** 2
    c = (rb * rm / (ratio * semi)) ** 2 - (EARTH_KM * np.cos(beta)) ** 2
    gamma = np.arccos(EARTH_KM / rb * np.cos(beta))
    k = EARTH_KM * np.cos(beta)
    inner = (b * b - 4.0 * a * c) / (
        4.0 * c * (np.sin(gamma) + np.sqrt(c) / rb + b / (2.0 * np.sqrt(c))) ** 2
    )
    ground = 2.0 * EARTH_KM * (gamma - beta - k / (2.0 * np.sqrt(c)) * np.log(inner))
    whole = (b * b - 4.0 * a * c) / (
        2.0 * a * rb + b + 2.0 * rb * np.sqrt(a) * np.sin(gamma)
    ) ** 2
    group = 2.0 * (
        rb * np.sin(gamma) - EARTH_KM * np.sin(beta)
        + (-rb * np.sin(gamma) - b / (4.0 * np.sqrt(a)) * np.log(whole)) / a
    )  # fmt: skip
    ours = trace(single_layer(fo, height, semi), frequency, takeoff)
    check.near("ground range [km]", ours.ground_km, ground, abs=1e-3, why="rounding")
    check.near("group path [km]", ours.group_km, group, abs=1e-3, why="rounding")


@pytest.mark.parametrize("takeoff", [20.0, 45.0, 70.0])
def test_near_the_ground_it_is_the_parabola_over_a_flat_earth(outside, takeoff):
    """
    Layers a few hundred metres up do not see the Earth's curvature.

    D = 2 h0 cot(beta) + ym (f/fo) cos(beta) ln((fo + f sin(beta))/(fo - f sin(beta)));
    the triangle with the same group path (Breit and Tuve); its height is that of the
    sounding at f sin(beta) (Martyn).
    """
    check = outside(
        "Appleton and Beynon, Proc. Phys. Soc. 52, 518 (1940); Breit and Tuve, Phys. "
        "Rev. 28, 554 (1926); Martyn, Proc. Phys. Soc. 47, 323 (1935)",
        "from memory",
    )
    fo, bottom, semi = 5.0, 0.5, 0.2
    frequency = 0.8 * fo / np.sin(np.radians(takeoff))
    sine, cosine = np.sin(np.radians(takeoff)), np.cos(np.radians(takeoff))
    layer = single_layer(fo, bottom + semi, semi)
    ours = trace(layer, frequency, takeoff)
    up = fo + frequency * sine
    bent = semi * frequency / fo * cosine * np.log(up / (fo - frequency * sine))
    expected = 2.0 * bottom * cosine / sine + bent
    flat = {"rel": 2e-3, "why": "0.7 km over an Earth's radius, at a flat angle"}
    check.near("ground range, parabola [km]", ours.ground_km, expected, **flat)
    triangle = ours.ground_km / cosine
    check.near("group path, Breit and Tuve [km]", ours.group_km, triangle, **flat)
    sounded = trace(layer, frequency * sine, 90.0).group_km / 2.0
    height = 0.5 * ours.ground_km * sine / cosine
    check.near("virtual height, Martyn [km]", height, sounded, **flat)


@pytest.mark.parametrize("height", [110.0, 300.0])
def test_a_thin_layer_is_a_mirror(height):
    """Straight rays to the height, the secant law, and nothing beyond it."""
    layer = single_layer(5.0, height, 0.002)
    takeoff = np.array([1.0, 10.0, 30.0, 60.0, 89.0])
    limit = 5.0 * sec_incidence(takeoff, height)
    ours = trace(layer, 0.97 * limit, takeoff)
    hop = hop_length_km(takeoff, height)
    assert ours.ground_km == pytest.approx(hop, abs=0.2)
    assert ours.group_km == pytest.approx(ray_path_km(hop, height), abs=0.2)
    # The phase path is a small difference of great numbers in so thin a layer.
    thicker = trace(single_layer(5.0, height, 0.2), 0.97 * limit, takeoff)
    assert thicker.phase_km == pytest.approx(ray_path_km(hop, height), rel=2e-3)
    assert np.isnan(trace(layer, 1.001 * limit, takeoff).ground_km).all()
    assert (trace(layer, 0.999 * limit, takeoff).piece == 0).all()
    assert critical_deg(layer, limit) == pytest.approx(takeoff[None], abs=0.02)


@pytest.mark.slow
@slow
@given(seed=seeds, frequency=st.floats(1.8, 30.0), takeoff=st.floats(0.5, 89.0))
def test_phase_path_follows_the_angle_and_the_frequency(
    random_profile, seed, frequency, takeoff
):
    """
    Fermat: dP = cos(beta) dD from one ray to the next at one frequency.

    And over frequency d(f P) = P' df + f cos(beta) dD, which makes P' the group path.
    """
    profile = random_profile(np.random.default_rng(seed))
    near = critical_deg(profile, frequency * np.array([0.997, 1.0, 1.003]))
    assume(np.abs(near - takeoff).min() > 0.2)
    here = trace(profile, frequency, takeoff)
    assume(here.piece >= 0)
    cosine = np.cos(np.radians(takeoff))
    beside = takeoff + np.array([-0.02, -0.01, 0.01, 0.02])
    ring = trace(profile, frequency, beside)
    # Where two pieces of the profile meet the distance has a kink and no derivative.
    assume((ring.piece == here.piece).all())
    ahead, light = (
        _difference(path, np.radians(0.01)) for path in (ring.ground_km, ring.phase_km)
    )
    assert light.value == pytest.approx(
        cosine * ahead.value, rel=1e-3, abs=light.doubt + ahead.doubt
    )
    assert here.slope_km_rad == pytest.approx(ahead.value, rel=3e-3, abs=ahead.doubt)
    rise = 1e-3 * frequency
    higher = frequency + rise * np.array([-2.0, -1.0, 1.0, 2.0])
    ring = trace(profile, higher, takeoff)
    assume((ring.piece == here.piece).all())
    cycles, ahead = (
        _difference(path, rise) for path in (higher * ring.phase_km, ring.ground_km)
    )
    carried = frequency * cosine * ahead.value
    assert cycles.value - carried == pytest.approx(
        float(here.group_km), rel=1e-3, abs=cycles.doubt + frequency * ahead.doubt
    )


class _Difference(NamedTuple):
    value: float
    doubt: float


def _difference(path, step):
    """
    Slope from values at -2, -1, 1 and 2 steps, to the fourth order, and its doubt.

    The doubt is what the step itself changes, and the digits the phase path has lost
    where the foot is a thin, steep piece (1e-3 km).
    """
    far, near = path[3] - path[0], path[2] - path[1]
    value = (8.0 * near - far) / (12.0 * step)
    return _Difference(value, abs(value - near / (2.0 * step)) + 1.5e-3 / step)


@pytest.mark.slow
@slow
@given(seed=seeds, factor=st.floats(0.3, 3.0))
def test_all_frequencies_scale_together(random_profile, seed, factor):
    """A layer f times as dense does to f times the frequency what this one does."""
    profile = random_profile(np.random.default_rng(seed))
    denser = type(profile)(
        profile.edge, *(factor**2 * p for p in (profile.value, profile.slope)),
        factor**2 * profile.curve, profile.tops,
    )  # fmt: skip
    takeoff = np.linspace(1.0, 89.0, 40)
    one, other = trace(profile, 7.0, takeoff), trace(denser, 7.0 * factor, takeoff)
    assert np.array_equal(one.piece, other.piece)
    assert other.ground_km == pytest.approx(one.ground_km, rel=1e-6, nan_ok=True)
    assert other.group_km == pytest.approx(one.group_km, rel=1e-6, nan_ok=True)


@pytest.mark.slow
@slow
@given(seed=seeds, frequency=st.floats(1.8, 30.0))
def test_barriers_are_the_least_of_a_fine_scan(random_profile, seed, frequency):
    profile = random_profile(np.random.default_rng(seed))
    least, _ = barriers(profile, frequency)
    for layer, top in enumerate(profile.tops):
        heights = np.linspace(90.0, profile.edge_km()[top + 1], 20001)
        index = 1.0 - (profile.plasma_mhz(heights) / frequency) ** 2
        scan = (index * ((EARTH_KM + heights) / EARTH_KM) ** 2).min()
        assert least[layer] == pytest.approx(scan, abs=2e-6)
        assert least[layer] <= scan + 1e-12


@slow
@given(seed=seeds, frequency=st.floats(1.8, 30.0))
def test_each_layer_turns_the_rays_below_its_critical_elevation(
    random_profile, seed, frequency
):
    profile = random_profile(np.random.default_rng(seed))
    critical = critical_deg(profile, frequency)
    assert (np.diff(critical) >= 0.0).all()
    takeoff = np.linspace(0.01, 89.99, 500)
    clear = np.abs(critical[:, None] - takeoff).min(axis=0) > 1e-6
    piece = trace(profile, frequency, takeoff).piece
    layer = (takeoff > critical[:, None]).sum(axis=0)
    ends = np.array([*profile.tops, profile.pieces])
    expected = np.where(piece < 0, len(profile.tops), np.searchsorted(ends, piece))
    assert np.array_equal(expected[clear], layer[clear])


def test_a_ray_that_all_but_gets_through_lingers(example):
    """Distance grows as the logarithm of what is missing to the critical angle."""
    night = example["C"]
    edge = critical_deg(night, 7.1)[-1]
    short = np.degrees(10.0 ** -np.array([2.0, 4.0, 6.0, 8.0]))
    ground = trace(night, 7.1, edge - short).ground_km
    steps = np.diff(ground)
    assert steps == pytest.approx(steps[0], rel=0.06)
    assert np.isnan(trace(night, 7.1, edge + 1e-6).ground_km)


def test_a_sheet_turns_what_gets_up_to_it(example):
    """
    Sporadic E at 105 km, in front of all of the rest of the night sky.

    So few electrons are below it that it is a mirror; by day the E layer bends the
    ray below the sheet, and turns the flattest before they get there.
    """
    takeoff = np.array([2.0, 10.0, 30.0, 80.0])
    night = trace(example["C"], 28.0, takeoff, 105.0)
    assert night.ground_km == pytest.approx(hop_length_km(takeoff, 105.0), rel=1e-3)
    assert night.apogee_km == pytest.approx(105.0)
    assert (night.piece == example["C"].pieces).all()
    day = trace(example["A"], 7.1, [10.0, 60.0], 105.0)
    assert day.piece.tolist() == [0, 6]
    assert day.apogee_km[0] == pytest.approx(92.593, abs=0.01)
    assert day.ground_km[1] > hop_length_km(60.0, 105.0) * 1.01
    below = trace(example["A"], 7.1, 10.0, 85.0)
    assert below.ground_km == pytest.approx(hop_length_km(10.0, 85.0))


def test_a_drawn_ray_runs_from_the_ground_to_the_ground(example):
    """Straight below the layers, level at the apogee, the same on both sides."""
    along, height = drawn(example["C"], 7.1, 20.0, 81)
    whole = trace(example["C"], 7.1, 20.0)
    assert along[-1] == pytest.approx(float(whole.ground_km))
    assert height.max() == pytest.approx(float(whole.apogee_km))
    assert (np.diff(along) > 0.0).all()
    assert height == pytest.approx(height[::-1])
    radius, theta = EARTH_KM + height, along / EARTH_KM
    straight = (height > 1.0) & (height < 85.0) & (along < 0.5 * along[-1])
    rise = radius * np.cos(theta) - EARTH_KM
    slope = np.degrees(np.arctan2(rise, radius * np.sin(theta)))
    assert slope[straight] == pytest.approx(20.0, abs=0.01)
    nothing, _ = drawn(example["C"], 28.0, 60.0, 9)
    assert np.isnan(nothing[1:]).all()


def test_sheets_of_many_heights_broadcast(example):
    ours = trace(example["A"], 21.0, 20.0, np.array([95.0, 105.0, 120.0]))
    assert ours.apogee_km == pytest.approx([95.0, 105.0, 120.0])
    assert (np.diff(ours.ground_km) > 0.0).all()


def test_many_rays_at_once_are_those_one_by_one(monkeypatch, random_profile):
    """Pieces of any size, arrays of any shape."""
    rng = np.random.default_rng(5)
    profiles = layered_profile(
        rng.uniform(0.5, 3.5, 7),
        NAN,
        rng.uniform(4.0, 10.0, 7),
        rng.uniform(230, 350, 7),
    )
    frequency, takeoff = np.array([3.6, 7.1, 14.1]), np.linspace(1.0, 88.0, 11)
    monkeypatch.setattr(rays_module, "_AT_ONCE", 40)
    ours = trace(profiles[:, None, None], frequency[:, None], takeoff)
    assert ours.ground_km.shape == (7, 3, 11)
    for i, j in ((0, 0), (3, 1), (6, 2)):
        one = trace(profiles[i], frequency[j], takeoff)
        assert ours.ground_km[i, j] == pytest.approx(one.ground_km, nan_ok=True)
        assert ours.phase_km[i, j] == pytest.approx(one.phase_km, nan_ok=True)
        assert np.array_equal(ours.piece[i, j], one.piece)
    quick = inside(profiles[:, None], frequency, np.cos(0.5))
    assert quick.group.size == 0
    assert quick.theta.shape == (7, 3)
    assert random_profile(rng).shape == ()


def test_out_of_range_is_not_a_number(example):
    bad = trace(example["C"], 7.1, [-1.0, 90.5, NAN])
    assert np.isnan(bad.ground_km).all()
    assert (bad.piece == -1).all()
    assert np.isnan(trace(example["C"], [0.0, -3.0, NAN], 20.0).group_km).all()
    nothing = layered_profile(NAN, NAN, 5.0, 300.0)
    assert np.isnan(trace(nothing, 7.1, 20.0).apogee_km)
    assert np.isnan(critical_deg(nothing, 7.1)).all()


def test_extraordinary_critical_frequency_is_where_its_index_vanishes(outside):
    """X = 1 - Y with X = (fo/f)^2 and Y = fH/f; about half a gyrofrequency above fo."""
    check = outside("magneto-ionic theory (Ratcliffe 1959): X = 1 - Y", "from memory")
    fo, gyro = np.array([2.0, 5.0, 12.0]), 1.3
    fx = 0.5 * gyro + np.hypot(fo, 0.5 * gyro)
    check.near("X + Y at fx", (fo / fx) ** 2 + gyro / fx, 1.0, abs=1e-12, why="exact")
    check.near(
        "fx less fo, over half a gyrofrequency",
        (fx - fo) / apart_mhz(gyro, 0.0),
        1.0,
        abs=0.17,
        why="the rule leaves out fH^2/8 fo",
    )
