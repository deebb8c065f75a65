"""The electron-density profile: its nodes, its joins, its limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.ionosphere.profile import (
    LAYER_TOPS,
    f1_share,
    hmf2_km,
    layered_profile,
    single_layer,
)

NAN = float("nan")

# Summer noon: heights, and y0, slope and curvature in t = R (1/r_low - 1/r). [MHz^2]
NOON = np.array(
    [
        [90.0000, 110.0000, 0.000000, 7868.398646, -1292886.8584],
        [110.0000, 149.7546, 11.971600, 0.0, 154079.1151],
        [149.7546, 190.0000, 17.505800, 1846.840154, -154079.1151],
        [190.0000, 219.1765, 23.040000, 0.0, 191111.7823],
        [219.1765, 248.6136, 26.572107, 1643.200910, 32295.3044],
        [248.6136, 270.0000, 34.233200, 1920.879622, -309877.9329],
    ]
)

# F1 node and foot of F2: MHz at km.
NODES = {
    "A0": (4.993, 190.00, 5.851, 248.61),
    "B": (3.967, 172.26, 4.420, 198.94),
    "C": (0.763, 202.26, 0.850, 241.81),
    "D": (2.290, 190.77, 2.550, 225.39),
    "H": (1.222, 222.49, 1.360, 270.70),
}

layers = st.tuples(
    st.floats(0.3, 4.2),
    st.one_of(st.just(NAN), st.floats(1.2, 1.6)),
    st.floats(2.0, 16.0),
    st.floats(210.0, 480.0),
    st.floats(0.18, 0.45),
    st.floats(0.0, 1.0),
)


def drawn(layer):
    foe, f1_over_foe, fof2, height, semi_share, share = layer
    return layered_profile(
        foe, foe * f1_over_foe, fof2, height, semi_share * height, share
    )


def test_pieces_of_a_summer_noon(outside, example):
    check = outside("the joins worked out a second time by hand", "worked apart")
    noon = example["A"]
    edges = noon.edge_km()
    ours = np.stack([edges[:-1], edges[1:], noon.value, noon.slope, noon.curve], axis=1)
    for column, (what, digits) in enumerate(
        [
            ("low [km]", 4),
            ("high [km]", 4),
            ("f² [MHz²]", 6),
            ("slope", 6),
            ("curve", 4),
        ]
    ):
        check.near(
            f"pieces of a summer noon, {what}",
            ours[:, column],
            NOON[:, column],
            abs=1.01 * 0.5 * 10.0**-digits + 1e-9 * np.abs(NOON[:, column]).max(),
            why="printed so",
        )


@pytest.mark.parametrize("name", NODES)
def test_node_and_foot(outside, example, name):
    check = outside("the joins worked out a second time by hand", "worked apart")
    profile = example[name]
    heights = profile.edge_km()[[3, 5]]
    expected = np.array(NODES[name])
    check.near(
        "heights of F1 node and foot [km]", heights, expected[1::2], abs=0.006,
        why="printed so",
    )  # fmt: skip
    check.near(
        "plasma frequencies there [MHz]", profile.plasma_mhz(heights), expected[::2],
        abs=0.0006, why="printed so",
    )  # fmt: skip


@pytest.mark.parametrize("height", [225.0, 250.0, 299.0, 300.0])
def test_a_layer_is_the_quasi_parabola(outside, height):
    """fo^2 [1 - ((r - rm) rb / (ym r))^2], the form in which it was published."""
    check = outside("Croft and Hoogasian, Radio Science 3, 69 (1968)", "from memory")
    r, peak, bottom = 6371.0 + np.array([height, 300.0, 220.0])
    expected = 7.0 * np.sqrt(1.0 - ((r - peak) / 80.0 * bottom / r) ** 2)
    ours = single_layer(7.0, 300.0, 80.0).plasma_mhz(height)
    check.near("quasi-parabolic layer [MHz]", ours, expected, abs=1e-6, why="rounding")


@given(layers)
def test_density_never_falls_and_joins_smoothly(layer):
    profile = drawn(layer)
    length = profile.edge[:-1] - profile.edge[1:]
    assert (length > 0.0).all()
    end = profile.value + (profile.slope + profile.curve * length) * length
    end_slope = profile.slope + 2.0 * profile.curve * length
    scale = end[-1]
    assert end[:-1] == pytest.approx(profile.value[1:], abs=1e-11 * scale)
    size = np.abs(profile.curve * length).max()
    assert end_slope[:-1] == pytest.approx(profile.slope[1:], abs=1e-8 * size)
    assert end_slope[-1] == pytest.approx(0.0, abs=1e-8 * size)
    # A quadratic is monotone where its slope keeps its sign at both ends.
    assert (profile.slope > -1e-8 * size).all()
    assert (end_slope > -1e-8 * size).all()
    heights = np.linspace(85.0, profile.edge_km()[-1], 500)
    assert (np.diff(profile.plasma_mhz(heights)) >= -1e-9).all()


@given(layers)
def test_peaks_are_what_was_asked_for(layer):
    foe, _, fof2, height, _, _ = layer
    profile = drawn(layer)
    held = min(foe, 0.9 * fof2)
    assert profile.plasma_mhz(110.0) == pytest.approx(held)
    assert profile.plasma_mhz(height) == pytest.approx(fof2)
    assert profile.plasma_mhz(height + 50.0) == pytest.approx(fof2)
    assert profile.plasma_mhz(90.0) == pytest.approx(0.0, abs=1e-6)


def test_without_a_share_the_ledge_is_gone():
    """Share 0, and foF1 not given at all, are one profile; between is in between."""
    given_, without, half, full = (
        layered_profile(3.0, fof1, 7.0, 280.0, None, share)
        for fof1, share in ((4.4, 0.0), (NAN, 1.0), (4.4, 0.5), (4.4, 1.0))
    )
    assert np.array_equal(given_.edge, without.edge)
    assert np.array_equal(given_.curve, without.curve)
    node = float(full.edge_km()[3])
    at = [float(p.plasma_mhz(node)) for p in (without, half, full)]
    assert at[0] < at[1] < at[2] or at[0] > at[1] > at[2]
    assert full.slope[3] == 0.0
    assert full.plasma_mhz(node) == pytest.approx(4.4)


def test_the_ledge_comes_and_goes_smoothly():
    share = f1_share(np.linspace(40.0, 80.0, 401), 70.0)
    assert share[0] == 1.0
    assert share[-1] == 0.0
    assert np.abs(np.diff(share)).max() < 0.02
    assert f1_share(65.0, 70.0) == pytest.approx(0.5)


def test_a_place_out_of_range_is_not_a_number():
    bad = layered_profile(
        [0.0, 3.0, 3.0, 3.0, NAN], NAN, [6.0, -1.0, 6.0, 6.0, 6.0],
        [300.0, 300.0, 120.0, NAN, 300.0],
    )  # fmt: skip
    assert np.isnan(bad.edge).all()
    assert np.isnan(bad.plasma_mhz(200.0)).all()


def test_arrays_broadcast_and_are_indexed():
    many = layered_profile(
        np.array([[1.0], [3.0]]), NAN, np.array([5.0, 7.0, 9.0]), 300.0
    )
    assert many.shape == (2, 3)
    assert many.pieces == 6
    assert many[1, 2].shape == ()
    assert many[..., None].shape == (2, 3, 1)
    one = layered_profile(3.0, NAN, 9.0, 300.0)
    assert many[1, 2].curve == pytest.approx(one.curve)
    assert many[0].up_to(0).pieces == 1
    assert many.up_to(1).tops == LAYER_TOPS[:2]


def test_height_of_the_peak_is_that_of_the_standard(outside):
    """
    hmF2 = 1490/(M + dM) - 176, x = foF2/foE held at 1.8.

    At x = 4, R12 = 25: dM = 0.18/2.6; at x = 1.2: 0.18/0.4; R12 = 175 adds 0.096.
    """
    check = outside("ITU-R P.1239-3, section 2", "from memory")
    lift = np.array([0.18 / 2.6, 0.18 / 0.4, 0.18 / 2.6 + 0.096])
    check.near(
        "height of the F2 peak [km]",
        hmf2_km(3.0, 8.0, 8.0 / np.array([4.0, 1.2, 4.0]), [25.0, 25.0, 175.0]),
        1490.0 / (3.0 + lift) - 176.0, abs=1e-6, why="rounding",
    )  # fmt: skip
