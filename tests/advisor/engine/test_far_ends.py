"""Kinds of station at the other end: their table, patterns, spread, and the chance."""

import numpy as np
import pytest

from advisor.antenna.grazing import grazing_gain
from advisor.antenna.ground import ground_by_name
from advisor.engine.wires import far_end_patterns, far_end_sigmas_db, solve_at
from advisor.station.bands import band_by_name
from advisor.station.file import resolve_station
from advisor.station.station import FAR_END_KINDS
from geo.errors import InputError
from geo.tables import read_table, table_root

MIXES = ("modest", "usual", "big")
BANDS = [band_by_name(name, 1) for name in ("160 m", "80 m", "40 m", "20 m", "10 m")]


def far_end(**values):
    """The far end of a station that says so much about it."""
    station, origins = resolve_station(None, {"place": "KF07jo", "far_end": values})
    return station.far_end, origins


def pattern(kind, band="20 m"):
    end, _ = far_end(**({"kind": kind} if isinstance(kind, str) else kind))
    return far_end_patterns(end, [band_by_name(band, 1)])[band]


def gains(kind, elevation_deg, bands=BANDS):
    end, _ = far_end(kind=kind)
    return np.array(
        [
            10.0
            * np.log10(
                np.interp(
                    elevation_deg, p.elevation_deg, (p.vertical + p.horizontal)[:, 0]
                )
            )
            for p in far_end_patterns(end, bands).values()
        ]
    )


def test_the_table_can_be_read_by_astropy():
    from astropy.table import Table

    table = Table.read(table_root() / "far_ends.ecsv", format="ascii.ecsv")
    assert len(table) == len(read_table("far_ends")) == 30
    assert set(table["kind"]) == set(MIXES)
    assert np.all(table["efficiency_db"] < 0.0)
    assert np.all((table["upright_share"] >= 0.0) & (table["upright_share"] <= 1.0))


@pytest.mark.long
def test_the_table_is_what_the_builder_makes():
    """One row of it, drawn and solved again."""
    import importlib.util

    path = table_root().parent / "docs" / "studies" / "build_far_ends.py"
    spec = importlib.util.spec_from_file_location("build_far_ends", path)
    builder = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(builder)
    builder.BANDS = {"15 m": 21.1}
    made = {kind: rest for kind, _, *rest in builder.rows()}
    for row in read_table("far_ends").rows():
        if float(row["frequency_mhz"]) == 21.1:
            shipped = [float(x) for x in list(row.values())[2:]]
            assert made[row["kind"]] == pytest.approx(shipped, abs=0.06)


def test_a_kind_says_what_else_is_there_and_what_is_named_wins():
    for kind, has in FAR_END_KINDS.items():
        end, _ = far_end(kind=kind)
        assert (end.antenna, end.noise, end.power_w) == tuple(has.values())
    end, origins = far_end(kind="big", power_w=100.0)
    assert (end.antenna, end.power_w) == ("big", 100.0)
    assert origins["far_end.antenna"] == "a big station"
    assert origins["far_end.power_w"] == "option"
    usual, _ = far_end()
    assert (usual.kind, usual.antenna) == ("usual", "usual")


def hung_there(**far_end):
    """A station with two wires, and what it says of the far end."""
    wires = [
        {"name": "low", "shape": "dipole", "height_m": 5.0, "bands": ["40 m", "20 m"]},
        {"name": "tall", "shape": "ground-mounted vertical", "bands": ["20 m"]},
    ]
    given = {"place": "KF07jo", "setups": wires, "far_end": far_end}
    return resolve_station(None, given)


def test_a_set_up_of_mine_may_hang_there_too():
    station, origins = hung_there(setup="tall")
    end = station.far_end
    assert (end.antenna, end.wire) == ("own", station.setups[1])
    assert origins["far_end.antenna"] == "one of your set-ups"
    forty, twenty = (
        far_end_patterns(end, [band_by_name(name, 1)])[name]
        for name in ("40 m", "20 m")
    )
    assert not forty.vertical.any()
    assert not forty.horizontal.any()
    own = solve_at(station.setups[1], 14.1, ground_by_name("average"))
    assert twenty.vertical == pytest.approx(own.pattern.vertical, rel=0.01)
    for side in far_end_sigmas_db(end, [14.1]):
        assert not side.any()


def test_a_set_up_there_must_be_mine_and_the_only_antenna():
    with pytest.raises(InputError, match=r"'talk' is unknown: .*did you mean 'tall'"):
        hung_there(setup="talk")
    with pytest.raises(InputError, match="name one of them"):
        hung_there(setup="tall", antenna="dipole")


def test_bigger_stations_send_better_at_low_angles():
    modest, usual, big = (gains(kind, 15.0) for kind in MIXES)
    assert np.all(big > usual + 5.0)
    assert np.all(usual > modest - 0.5)


def test_against_a_dipole():
    """Common practice: it sends better than the usual wire and hears about as well."""
    for band in ("80 m", "40 m", "20 m"):
        plain, usual = pattern({"antenna": "dipole"}, band), pattern("usual", band)
        at = np.array([10.0, 20.0])
        sent = [
            np.interp(at, p.elevation_deg, (p.vertical + p.horizontal).mean(axis=-1))
            for p in (plain, usual)
        ]
        less = 10.0 * np.log10(sent[0] / sent[1])
        assert np.all((less > 1.0) & (less < 9.0)), band
        heard = less - 10.0 * np.log10(plain.efficiency / usual.efficiency)
        assert np.all(np.abs(heard) < 5.0), band


def test_patterns_are_whole():
    soil = ground_by_name("average")
    for kind in MIXES:
        for band in ("160 m", "20 m", "6 m"):
            one = pattern(kind, band)
            assert one.vertical[0].max() == 0.0
            assert 0.0 < one.efficiency < 1.0
            assert np.all(np.isfinite(grazing_gain(one, soil, [0.0, 90.0])))


def test_spread_is_none_of_one_antenna_and_some_of_a_mix():
    frequency = [1.85, 14.1, 50.0]
    dipole, _ = far_end(antenna="dipole")
    for side in far_end_sigmas_db(dipole, frequency):
        assert np.array_equal(side, np.zeros(3))
    for kind in MIXES:
        end, _ = far_end(kind=kind)
        heard, hear = far_end_sigmas_db(end, frequency)
        assert np.all((heard > 0.5) & (heard < 7.0))
        assert np.all(hear >= 3.5)


@pytest.mark.slow
def test_a_better_station_there_never_lowers_the_chance(ask):
    """On the middle of every hour and band: modest, usual, big; and 100 W each."""
    found = [
        ask("50,10", "50,31", "2026-03-21", hours=4, far_end={"kind": kind})
        for kind in MIXES
    ]
    hear = np.array([each.setups[0].hear.mean() for each in found])
    assert np.all(np.diff(hear) > 0.0)
