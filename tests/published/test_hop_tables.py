"""Take-off angle against distance: handbook tables and textbook problems."""

import numpy as np

from geo.ionosphere.hops import hop_length_km, sec_incidence, takeoff_angle_deg


def test_field_manual_table_of_angle_and_distance(outside):
    """
    Two columns of a field manual are hops off layers of one height.

    Source: US Army field manual FM 24-18, table of take-off angle against distance,
    F2 layer by day and by night (from memory). The manual does not state its layer
    heights; the implied heights must be those of one layer, by day 200 to 260 km, by
    night 400 to 460 km, since it is printed to whole tens of miles.
    """
    takeoff = np.array([0, 5, 10, 15, 20, 25, 35, 40, 50, 60])
    day_km = np.array([3220, 2415, 1932, 1450, 1127, 966, 644, 564, 403, 258])
    night_km = np.array([4508, 3703, 2898, 2254, 1771, 1610, 1127, 966, 685, 443])
    check = outside("US Army FM 24-18, take-off angle and distance", "from memory")
    for time, printed, height in (("day", day_km, 228.0), ("night", night_km, 420.0)):
        ours = hop_length_km(takeoff, height)
        what = f"F2 by {time}, off {height:g} km, by what is printed"
        wanted = printed / (0.13 * printed + 40.0)
        why = "13 % and 40 km: whole tens of miles, heights not stated"
        check.near(what, ours / (0.13 * printed + 40.0), wanted, abs=1.0, why=why)
    low, high = hop_length_km(takeoff, 200.0), hop_length_km(takeoff, 260.0)
    inside = (low < day_km) & (day_km < high)
    check.holds("printed lengths by day", inside, "one layer, 200 to 260 km")
    low, high = hop_length_km(takeoff, 395.0), hop_length_km(takeoff, 465.0)
    inside = (low < night_km) & (night_km < high)
    check.holds("printed lengths by night", inside, "one layer, 395 to 465 km")


def test_secant_factors_at_300_km(outside):
    """
    MUF(D)/foF2 for a mirror at 300 km.

    Source: worked list citing Zolesi and Cander, Ionospheric Prediction and
    Forecasting (Springer 2014): 1, 1.29, 1.85, 2.39, 2.81, 3.10 at 0 to 2500 km.
    """
    distance = np.array([0.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0])
    printed = [1.0, 1.29, 1.85, 2.39, 2.81, 3.10]
    factor = sec_incidence(takeoff_angle_deg(distance, 300.0), 300.0)
    check = outside("Zolesi and Cander 2014", "quoted")
    why = "the last digit: printed cut off"
    check.near("MUF factor at 300 km, 0 to 2500 km", factor, printed, abs=0.01, why=why)


def test_angle_of_incidence_of_a_textbook_problem(outside):
    """
    Take-off 20 degrees to a layer at 200 km.

    Source: a textbook problem on sky waves: on a flat Earth the incidence is 70
    degrees; on a round one it is smaller by half the hop's angle at the centre.
    """
    flat = 70.0
    hop = hop_length_km(20.0, 200.0)
    incidence = np.degrees(np.arccos(1.0 / sec_incidence(20.0, 200.0)))
    outside("a textbook problem on sky waves", "quoted").near(
        "incidence at 200 km: 70 less half the central angle [deg]",
        incidence,
        flat - np.degrees(hop / 2 / 6371.0),
        abs=1e-9,
        why="rounding of the machine",
    )


def test_longest_hops(outside):
    """
    Longest hops off E and F2.

    Source: ITU-R P.533-14 sections 3.3 and 3.5 count E hops to 2000 km and F2 hops
    to 4000 km (from memory); King, Mimno and Wing, Transmission Lines, Antennas and
    Wave Guides: about 3500 km per hop at 3 degrees.
    """
    check = outside("ITU-R P.533-14 sections 3.3, 3.5: 2000 and 4000 km", "from memory")
    e_layer, f2_layer = hop_length_km(0.0, 110.0), hop_length_km(0.0, [300.0, 350.0])
    check.between("longest E hop [km]", e_layer, 2000.0, 2400.0, why="counted to 2000")
    mean = f2_layer.mean()
    check.between("longest F2 hop [km]", mean, 3800.0, 4200.0, why="counted to 4000")
    check = outside("plane trigonometry at 110 km", "worked apart")
    ours, why = hop_length_km(1.0, 110.0), "rounded"
    check.near("E hop at 1 degree [km]", ours, 2139.0, abs=1.0, why=why)
    check = outside("King, Mimno and Wing, Transmission Lines, Antennas", "quoted")
    ours, why = hop_length_km(3.0, 350.0), "told as about"
    check.near("F2 hop at 3 degrees [km]", ours, 3500.0, abs=30.0, why=why)
