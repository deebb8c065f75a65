"""Where the keys of a set-up meet the solver: metal, coat, coils, low wires, lines."""

import numpy as np
import pytest
from scipy.optimize import brentq

from advisor.answers.low_wires import folded_cautions, low_parts, reach_cautions
from advisor.answers.one_wire.line import end_v, line_work
from advisor.antenna.ground import PERFECT, ground_by_name
from advisor.antenna.shapes.feedline import with_line
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver.currents import solve
from advisor.antenna.wires import Load, Source, Wire, WireModel
from advisor.engine.wires import hung_wire, solve_once
from advisor.station.setup import build_set_up
from geo.errors import InputError

SOIL = ground_by_name("average")


def set_up(**keys):
    wire = {"shape": "dipole", "sag_m": 0.0, "height_m": 10.0, **keys}
    return build_set_up(wire, ("40 m",))


def at(mhz, **keys):
    return solve_once(set_up(**keys), mhz, SOIL).solved


def resonance_mhz(low, high, **keys):
    return brentq(lambda mhz: at(mhz, **keys).z_ohm.imag, low, high, xtol=1e-4)


def test_metal_costs_by_the_root_of_its_resistivity(outside):
    sizes = {"length_m": 20.0, "wire_mm": 1.0}
    copper = at(7.1, metal="copper", **sizes).conductor_share
    steel = at(7.1, metal="stainless steel", **sizes).conductor_share
    check = outside("skin effect: loss as the root of the resistivity", "worked apart")
    what, why = "steel over copper, share lost", "the rest shares less"
    check.near(what, steel / copper, np.sqrt(5.8e7 / 1.37e6), rel=0.1, why=why)


@pytest.mark.slow
def test_plastic_lowers_the_resonance_as_its_line_says(outside):
    """Its capacitance is in series with the wire's, ln(quarter wave over radius)."""
    sizes = {"length_m": 20.0, "wire_mm": 1.0}
    bare = resonance_mhz(6.5, 7.6, **sizes)
    check = outside("wire as a line with a coat in series", "worked apart")
    for plastic, eps in (("polyethylene", 2.3), ("PVC", 3.5)):
        coat = {"insulation_mm": 0.7, "plastic": plastic}
        moved = resonance_mhz(6.5, 7.6, **sizes, **coat) / bare
        share = (1 - 1 / eps) * np.log(1.2 / 0.5) / np.log(10.0 / 0.5e-3)
        what, why = "resonance with a coat over bare", "a line in the mean"
        check.near(what, moved, np.sqrt(1 - share), abs=0.006, why=why)


def test_coils_bring_a_short_wire_to_resonance_as_a_line_says(outside):
    """Half-way out on 60 % of length: the reactances of the two parts of a line."""
    length, half = 12.6, 6.3
    k = 2 * np.pi * 7.1 / 299.792458 / 0.96
    line = 60 * (np.log(length / 1e-3) - 1)
    coil_uh = line * (1 / np.tan(k * half / 2) - np.tan(k * half / 2)) / (2e6 * np.pi)
    coil_uh *= 1e6 / 7.1

    def reactance(micro):
        coils = [[half / 2, micro, 200.0], [length - half / 2, micro, 200.0]]
        return at(7.1, length_m=length, coils=coils).z_ohm.imag

    needed = brentq(reactance, 2.0, 25.0, xtol=0.01)
    check = outside("two lines with a coil between", "worked apart")
    what, why = "coil for a dipole of 60 % [µH]", "mean impedance of a line"
    check.near(what, needed, coil_uh, rel=0.15, why=why)
    lossy = at(7.1, length_m=length, coils=[[3.15, needed, 50.0], [9.45, needed, 50.0]])
    assert lossy.load_share > 0.1


def test_a_trap_makes_two_dipoles_of_one():
    traps = [[6.0, 4.0, 31.5, 200.0], [18.0, 4.0, 31.5, 200.0]]
    trap_mhz = 1e-6 / (2 * np.pi * np.sqrt(4e-6 * 31.5e-12))
    short = at(trap_mhz, length_m=12.0).z_ohm
    # At their resonance the wire beyond the traps is cut off, but for their loss.
    cut_off = at(trap_mhz, length_m=24.0, traps=traps).z_ohm
    assert cut_off == pytest.approx(short, rel=0.2)
    whole = at(trap_mhz, length_m=24.0).z_ohm
    assert abs(whole - short) > 5 * abs(cut_off - short)


def test_a_wire_on_the_grass_is_solved_and_cautioned_about():
    low = set_up(length_m=20.0, height_m=0.02)
    solved = solve_once(low, 7.1, SOIL).solved
    assert 0.0 < solved.pattern.efficiency < 0.05
    assert solved.ground_share > 0.9
    cautions = reach_cautions({"low": [(hung_wire(low, 7.1), 7.1)]})
    assert any("low (0.02 m)" in each.text for each in cautions)
    high = set_up(length_m=20.0, height_m=0.5)
    topics = [c.topic for c in reach_cautions({"h": [(hung_wire(high, 7.1), 7.1)]})]
    assert "near the soil" not in topics


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"metal": "gold"}, "give one of copper"),
        ({"plastic": "rubber"}, "give one of polyethylene"),
        ({"coils": [[3, 10]]}, "at_m, inductance_uh, q"),
        ({"coils": []}, "a list of one or more"),
        ({"traps": [[3, 4, 0, 100]]}, "0.1 to 100000 pF"),
        ({"resistors": [[3, "50"]]}, "give a number"),
    ],
)
def test_what_cannot_be_put_in_is_refused(keys, said):
    with pytest.raises(InputError, match=said):
        set_up(**keys)


def test_parts_go_to_a_station_file_and_back():
    coils, traps = [[3.0, 10.0, 200.0]], [[5.0, 4.0, 30.0, 150.0]]
    wire = set_up(coils=coils, traps=traps, resistors=[[7.0, 50.0]], metal="brass")
    assert build_set_up(wire.as_mapping(), ("40 m",)) == wire
    assert wire.as_mapping()["coils"] == coils


def test_the_line_of_a_dipole_carries_what_both_halves_together_drive(outside):
    """A feed between one half and the other with the line on it is half a volt across
    both and half a volt to the line: its current is V over twice their impedance."""
    keys = {"length_m": 10.2, "line": "RG-58", "line_m": 14.0, "choke_ohm": 0.0}
    model = hung_wire(set_up(**keys), 14.1).model()
    fed = solve(model, 14.1, SOIL)
    line = model.wires.index(next(wire for wire in model.wires if wire.name))
    on_line = np.abs(fed.half_currents_a[fed.mesh.wire == line][0, 0])
    top = WireModel(model.wires, (Source(line, 0.0),))
    both_ohm = abs(solve(top, 14.1, SOIL).z_in_ohm[0])
    check = outside("superposition of the two modes of three wires", "worked apart")
    what, why = "current on the line, of half a volt", "the gap lies in one half"
    check.near(what, on_line * both_ohm, 0.5, rel=0.05, why=why)


@pytest.mark.slow
def test_the_voltage_of_the_radio_is_what_a_resistor_to_the_ground_shows(outside):
    """100 kohm from the line's end to perfect ground take next to nothing from it."""
    check = outside("a resistor in place of a voltmeter", "worked apart")
    for shape, sizes, line_m, ohm in (
        ("dipole", {"height_m": 8.0, "sag_m": 0.0}, 20.0, 0.0),
        ("end-fed half-wave", {"counterpoise_m": 2.0, "length_m": 20.3}, 15.0, 5e3),
    ):
        bare = with_line(hang(shape, 14.1, sizes), line_m, choke_ohm=ohm).model()
        solved = solve(bare, 14.1, PERFECT)
        east, north, _ = end = bare.wires[-1].end_m
        probe = Wire(end, (east, north, 0.0), 0.001, np.inf)
        load = Load(len(bare.wires), 0.01, 1e5)
        whole = WireModel((*bare.wires, probe), bare.sources, (*bare.loads, load))
        probed = solve(whole, 14.1, PERFECT)
        told = end_v(solved, None) * np.sqrt(0.5 / solved.input_w)
        shown = np.sqrt(2e5 * probed.loads_w[-1] * 0.5 / probed.input_w)
        what = f"{shape}, volts of the case at 1 W"
        check.near(what, told, float(shown), rel=0.12, why="the tip and the coat")


def test_a_choke_of_many_ohms_is_no_line_and_heats_as_its_current_says():
    keys = {"length_m": 10.2, "line": "RG-58", "line_m": 14.0}
    plain = at(14.1, **keys)
    held = at(14.1, **keys, choke_ohm=1e5)
    bare = at(14.1, **keys, choke_ohm=0.0)
    assert held.z_ohm == pytest.approx(plain.z_ohm, rel=0.01)
    assert abs(bare.z_ohm - plain.z_ohm) > 3 * abs(held.z_ohm - plain.z_ohm)
    some = set_up(**keys, choke_ohm=700.0, choke_at_m=0.0)
    solved = solve_once(some, 14.1, SOIL)
    work = line_work(some, solved, SOIL, 100.0, 10.0)
    # The choke takes 5 cm next to the feed: its current is the line's there.
    assert work.choke_w == pytest.approx(700.0 * work.feed_a**2, rel=0.03)
    assert work.choke_w == pytest.approx(100.0 * solved.solved.load_share, rel=1e-6)


@pytest.mark.parametrize(
    "shape", ["half-square", "quarter-wave vertical", "delta loop"]
)
def test_a_line_hangs_on_every_shape_and_is_no_part_of_its_wire(shape):
    keys = {"shape": shape, "line": "RG-58", "line_m": 14.0}
    plain = hung_wire(build_set_up(keys, ("20 m",)), 14.1)
    lined = hung_wire(build_set_up({**keys, "choke_ohm": 0}, ("20 m",)), 14.1)
    assert lined.own_wires == plain.own_wires
    assert lined.below_wires == plain.below_wires
    length = sum(piece.length_m for piece in lined.line)
    assert length == pytest.approx(14.0, abs=0.03)
    assert np.isfinite(solve(lined.model(), 14.1, SOIL).z_in_ohm[0])


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"line": "open-wire 450"}, "a coaxial line"),
        ({"line": "none"}, "a coaxial line"),
        ({"line": "RG-58", "choke_at_m": 12.0}, "put it on the line"),
    ],
)
def test_a_choke_without_a_place_is_refused(keys, said):
    with pytest.raises(InputError, match=said):
        hung_wire(set_up(choke_ohm=1000.0, **keys), 7.1)


def mast(**keys):
    wire = {"shape": "quarter-wave vertical", "feed_height_m": 0.1, **keys}
    return build_set_up(wire, ("20 m",))


@pytest.mark.slow
def test_radials_are_led_into_the_soil_and_a_stake_does_for_them():
    hung = hung_wire(mast(radials_n=8, radials_at_m=-0.05), 14.1)
    assert {wire.end_m[2] for wire in hung.below_wires} == {-0.05}
    assert [piece.end_m[2] for piece in hung.earth] == [0.0, -0.05]
    alone = hung_wire(mast(stake_m=1.5), 14.1)
    # Its foot goes on into the soil: no open end, no more than over radials.
    assert not low_parts(alone, 14.1)
    assert not low_parts(hung, 14.1)
    assert not alone.below_wires
    assert alone.earth[-1].end_m[2] == -1.5
    skies = [
        solve_once(mast(**keys), 14.1, SOIL).solved
        for keys in (
            {"stake_m": 1.5},
            {"radials_n": 4, "radials_at_m": -0.05},
            {"radials_n": 16, "radials_at_m": -0.05},
        )
    ]
    shares = [each.pattern.efficiency for each in skies]
    assert shares == sorted(shares)
    ohms = [each.z_ohm.real for each in skies]
    assert ohms == sorted(ohms, reverse=True)
    # Lying in the grass is as hanging a little higher, not as being buried.
    low, hung_there = (
        solve_once(mast(radials_n=4, **keys), 14.1, SOIL).solved.pattern.efficiency
        for keys in ({"radials_at_m": 0.03}, {})
    )
    assert low == pytest.approx(hung_there, rel=0.05)
    assert low > shares[2]


def test_a_stake_a_line_and_a_choke_go_together():
    keys = {"stake_m": 1.0, "line": "RG-58", "line_m": 5.0, "choke_ohm": 500.0}
    hung = hung_wire(mast(**keys), 14.1)
    (choke,) = hung.loads
    assert hung.model().wires[choke.wire].name == "feed line"
    solved = solve_once(mast(**keys), 14.1, SOIL)
    work = line_work(mast(**keys), solved, SOIL, 100.0, 10.0)
    assert work.choke_w == pytest.approx(100.0 * solved.solved.load_share, rel=1e-6)


@pytest.mark.parametrize(
    ("wire", "said"),
    [
        (set_up(stake_m=1.0), "fed against a counterpoise or radials"),
        (mast(radials_at_m=-0.5, stake_m=0.3), "ends above radials"),
        (mast(radials_at_m=1.9), "is above the feedpoint"),
    ],
)
def test_an_earth_that_cannot_be_is_refused(wire, said):
    with pytest.raises(InputError, match=said):
        hung_wire(wire, 14.1)


@pytest.mark.parametrize(
    ("shape", "ends_m", "is_told"),
    [("inverted V", {"apex_m": 10.0, "end_m": 6.9}, True), ("inverted V", {}, False),
     ("dipole", {}, False), ("end-fed half-wave", {}, False)],
)  # fmt: skip
def test_legs_that_hang_folded_are_told(shape, ends_m, is_told):
    """A V of 6.85 m whose ends hang 3.1 m below its middle opens to some 50 degrees."""
    hung = hung_wire(build_set_up({"shape": shape, **ends_m}, ("15 m",)), 21.1)
    told = folded_cautions({"my wire": [("15 m", hung)]})
    assert bool(told) == is_told
    if is_told:
        assert hung.legs_deg == pytest.approx(
            2 * np.degrees(np.arccos(3.1 / 3.42)), abs=2.0
        )
        assert f"my wire (15 m {hung.legs_deg:.0f} deg)" in told[0].text
