"""How fast sky and wire are brought together, and how the time grows."""

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.answers.pictures.world import world_chances
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.wires import far_end_patterns, solve_setup
from advisor.station.file import resolve_station

BANDS = [f"{metres} m" for metres in (160, 80, 60, 40, 30, 20, 17, 15, 12, 10)]
SHAPES = ("dipole", "inverted V", "end-fed half-wave")
BEARINGS_DEG = np.arange(0.0, 360.0, 5.0)
WORLD_LIMIT_MB = 500.0


def asked(bands=BANDS, hours=24, shapes=SHAPES):
    """Eastern Africa (twelve points) from the other end of the continent."""
    wires = [
        {"name": shape, "shape": shape, "length_m": 37.0, "bands": bands}
        for shape in shapes
    ]
    given = {"place": "KF07jo", "bands": list(bands), "setups": wires}
    station, _ = resolve_station(None, given)
    question = question_for(station, ["014"], np.datetime64("2026-12-05"), hours)
    return question, far_end_patterns(station.far_end, question.bands)


def patterns_of(question):
    """Patterns of every set-up, solved before anything is timed."""
    return [
        {
            band: solved.pattern
            for band, solved in solve_setup(
                setup, question.bands, question.station.ground, None
            ).items()
        }
        for setup in question.station.setups
    ]


def turning(question, far, patterns):
    """Give the job of every wire on every bearing, the sky in hand."""
    link = link_for(question, question.solar.r12, far)

    def turn():
        for each in patterns:
            gains = wire_gains(question, link, each, BEARINGS_DEG, open_only=True)
            contact_chance(link, gains)

    return turn


@pytest.mark.bench
@pytest.mark.slow
def test_a_region_on_every_bearing(ratio):
    """12 points, 24 hours, 10 bands, 72 bearings, 3 set-ups; the sky in hand."""
    question, far = asked()
    patterns = patterns_of(question)
    assert question.targets[0].lat_deg.size == 12
    # 0.3 s is the aim on a quiet machine, on which the yardstick takes about 0.1 s,
    # and 0.8 s that of the sky.
    ratio(
        "link",
        turning(question, far, patterns),
        "12 points, 24 h, 10 bands, 72 bearings, 3 set-ups; to the yardstick",
        most=3.0,
    )


@pytest.mark.bench
@pytest.mark.slow
def test_the_sky_of_a_region(ratio):
    """12 points, 24 hours, 10 bands; nothing kept."""
    question, far = asked(shapes=SHAPES[:1])
    ratio(
        "sky",
        lambda: link_for(question, question.solar.r12, far),
        "12 points, 24 h, 10 bands, rays searched; to the yardstick",
        most=8.0,
    )


@pytest.mark.bench
@pytest.mark.slow
def test_time_grows_no_faster_than_the_question(ratio, aim, capsys):
    """Points, hours and bands, each from a quarter to the whole, one set-up."""
    whole, far = asked(shapes=SHAPES[:1])
    patterns = patterns_of(whole)
    target = whole.targets[0]

    def points(count):
        kept = slice(0, count)
        part = replace(
            target,
            lat_deg=target.lat_deg[kept],
            lon_deg=target.lon_deg[kept],
            weight=np.full(count, 1.0 / count),
        )
        return replace(whole, targets=(part,))

    def hours(count):
        solar = replace(
            whole.solar,
            **{k: getattr(whole.solar, k)[:count] for k in ("r12", "low", "high")},
        )
        return replace(whole, times=whole.times[:count], solar=solar)

    def bands(count):
        return replace(whole, bands=whole.bands[-count:])

    cases = (("points", points, (3, 6, 12)), ("hours", hours, (6, 12, 24)))
    for axis, cut, counts in (*cases, ("bands", bands, (3, 5, 10))):
        spent = []
        for count in counts:
            question = cut(count)
            what = f"one set-up, {count} {axis}; to the yardstick"
            spent.append(
                ratio(
                    f"link, {count} {axis}",
                    turning(question, far, patterns),
                    what,
                )
            )
        growth = np.log(spent[-1] / spent[0]) / np.log(counts[-1] / counts[0])
        with capsys.disabled():
            print(f"\ntime grows as {axis} to the power {growth:.2f}", end="")
        aim(f"growth with {axis}", growth, 1.35)


def world(hours=2, step_deg=10.0):
    """Chance to everywhere, one band."""
    question, far = asked(["20 m"], hours, shapes=SHAPES[:1])
    pattern = patterns_of(question)[0]["20 m"]
    return lambda: world_chances(question, pattern, far["20 m"], 30.0, step_deg)


@pytest.mark.bench
@pytest.mark.slow
def test_a_world_map(ratio):
    """A day at 5 degrees is some twenty times as much."""
    kept = []
    job = world()
    what = "10 degrees, one band, 2 h; to the yardstick"
    ratio("world map", lambda: kept.append(job()), what, repeat=1)
    chance = kept[-1].chance
    assert chance.shape[0] == 2
    assert 0.0 <= np.nanmin(chance) < 0.1 < np.nanmax(chance) <= 1.0


@pytest.mark.bench
@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_a_world_map_stays_small(capsys):
    """Peak memory of a process that draws up a fine map, libraries included."""
    # Not getrusage: that hands on the size of the process that started this one.
    code = (
        f"import runpy; runpy.run_path({__file__!r})['world'](4, 5.0)();"
        "print(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    peak_mb = float(run.stdout) * 1024.0 / 1e6
    with capsys.disabled():
        print(f"\nworld map: {peak_mb:.0f} MB at most", end="")
    assert peak_mb < WORLD_LIMIT_MB
