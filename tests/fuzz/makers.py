"""Random questions: places, times, skies, wires, words of a command, station files."""

import math

from hypothesis import strategies as st

from advisor.antenna.ground import ground_names
from advisor.antenna.shapes.registry import SHAPES
from advisor.propagation.noise import environments
from advisor.station.bands import BAND_NAMES
from advisor.station.emissions import EMISSION_NAMES
from geo.countries import target_names

CODES = tuple(target_names())
NAMES = tuple(target_names().values())
BANDS = BAND_NAMES

NUMBERS = st.one_of(
    st.floats(-1e3, 1e3).map(lambda x: round(x, 3)),
    st.sampled_from(
        [
            0.0,
            -0.0,
            -1.0,
            1e-9,
            1e9,
            1e300,
            -1e300,
            5e-324,
            math.nan,
            math.inf,
            -math.inf,
            90.0,
            180.0,
            360.0,
            2.0**53,
        ]
    ),
)
"""Numbers that are no favour to whoever reads them."""

SCRAPS = st.one_of(
    st.text(max_size=12),
    st.text("0123456789.,-+eE NSEWkm@:°'\"[]{}=#", max_size=14),
    st.sampled_from(
        [
            "",
            " ",
            "nan",
            "inf",
            "-inf",
            "1e999",
            "None",
            "any",
            "-",
            "--",
            "0x10",
            "\x1b[31mred",
            "a\nb",
            "a\tb",
            "\u202egnp",
            "\ufeffKF07",
            "日本",
            "𝟗",
            "²",
            "٣٤",
            "é" * 90,
            "x" * 3000,
            "9" * 400,
            "1,2,3",
            ",",
            "within km",
            "<b>",
            "\udcff",
            "％",
            "0-0 km",
            "within 0 km",
            "AA00aa00aa",
            "RR99XX",
            "-0,-0",
        ]
    ),
)
"""Texts that mean nothing, among them what a terminal or a page might trip over."""

LATITUDES = st.one_of(
    st.floats(-90, 90).map(lambda x: round(x, 2)),
    st.sampled_from([90.0, -90.0, 0.0, 89.99, -89.99, 66.56, -66.56]),
)
LONGITUDES = st.one_of(
    st.floats(-180, 180).map(lambda x: round(x, 2)),
    st.sampled_from([180.0, -180.0, 179.99, -179.99, 0.0]),
)


@st.composite
def locators(draw):
    """Any locator."""
    pairs = ["ABCDEFGHIJKLMNOPQR", "0123456789", "abcdefghijklmnopqrstuvwx"]
    length = draw(st.sampled_from([4, 6, 8]))
    return "".join(
        draw(st.sampled_from((*pairs, pairs[1])[i // 2])) for i in range(length)
    )


@st.composite
def lettered(draw):
    """Coordinates with letters for signs."""
    lat, lon = draw(LATITUDES), draw(LONGITUDES)
    return f"{abs(lat):g}{'SN'[lat >= 0]}, {abs(lon):g}{'WE'[lon >= 0]}"


PLACES = st.one_of(
    locators(),
    st.builds(lambda lat, lon: f"{lat:g},{lon:g}", LATITUDES, LONGITUDES),
    lettered(),
    st.sampled_from(["90,0", "-90,0", "0,180", "0,-180", "KF07jo", "RR99xx", "AA00aa"]),
)
"""Good places, poles and date line among them."""

RINGS = st.one_of(
    st.integers(0, 20100).map(lambda km: f"within {km} km"),
    st.builds(lambda a, b: f"{a}-{b} km", st.integers(0, 20100), st.integers(0, 20100)),
)


def targets(place):
    """Targets from a place: good ones for the most part; itself; the far side."""
    return st.one_of(
        PLACES,
        PLACES,
        RINGS,
        st.sampled_from(CODES),
        st.sampled_from(NAMES),
        st.just(place),
        st.just(_antipode(place)),
    )


def _antipode(place):
    """The other side of the Earth; the place itself if it is none."""
    from geo.errors import InputError
    from geo.places import parse_place

    try:
        here = parse_place(place)
    except InputError:
        return place
    lon = here.lon_deg - 180.0 if here.lon_deg > 0.0 else here.lon_deg + 180.0
    return f"{-here.lat_deg},{lon}"


MOMENTS = st.one_of(
    st.builds(
        lambda year, month, day, hour: (
            f"{year:04d}-{month:02d}-{day:02d}T{hour:02d}:00Z"
        ),
        st.integers(1950, 2050),
        st.integers(1, 12),
        st.integers(1, 28),
        st.integers(0, 23),
    ),
    st.sampled_from(
        [
            "2028-02-29",
            "2024-02-29T23:30Z",
            "1950-01-01",
            "2050-12-31T23:59Z",
            "2026-06-21T00:00Z",
            "2026-12-21T12:00Z",
            "2016-12-31T23:59:59+00:00",
            "1900-01-01",
            "2053-01-01",
            "2026-12-05T18:30+05:45",
            "20261205",
        ]
    ),
)
"""Good moments of a century, leap days and polar nights among them."""

ODD_MOMENTS = st.sampled_from(
    [
        "0001-01-01",
        "9999-12-31T23:00Z",
        "1850-01-01",
        "2090-01-01",
        "2027-02-29",
        "2026-13-01",
        "2026-12-05T18:00",
        "0001-01-01T00:00+14:00",
        "soon",
        "",
        "9999-12-31T23:59-14:00",
        "2026-W49-6",
        "12026-12-05",
        "2026-12-05T25:00Z",
    ]
)

GROUNDS = st.sampled_from(ground_names())
NOISES = st.sampled_from(environments())
EMISSIONS = st.sampled_from(EMISSION_NAMES)
FLARES = st.builds(
    lambda letter, factor: f"{letter}{factor}",
    st.sampled_from("ABCMXbx"),
    st.sampled_from(["", "1", "9.9", "5.", "28", "100", "0.1"]),
)

QUICK_WIRES = st.one_of(
    st.fixed_dictionaries(
        {"shape": st.just("ground-mounted vertical")},
        optional={"radials_n": st.integers(1, 8)},
    ),
    st.fixed_dictionaries(
        {
            "shape": st.just("dipole"),
            "height_m": st.sampled_from([2.0, 8.0, 20.0]),
            "bearing_deg": st.one_of(st.just("any"), st.floats(0, 360)),
        }
    ),
)
"""Set-ups that cost little: a few wires solved once."""


@st.composite
def wires(draw, *, wild=0.0):
    """Any shape with some of its dimensions; now and then one out of range."""
    shape = draw(st.sampled_from(list(SHAPES)))
    spec = SHAPES[shape]
    wire = {"shape": shape}
    for name, size in spec.dimensions.items():
        if draw(st.integers(0, 2)) == 0:
            value = draw(st.floats(size.low, min(size.high, 60.0)))
            wire[name] = round(value) if name.endswith("_n") else round(value, 2)
        if wild and draw(st.floats(0, 1)) < wild:
            wire[name] = draw(NUMBERS)
    if spec.takes_points:
        corner = st.tuples(
            st.integers(-20, 20), st.integers(-20, 20), st.integers(0, 15)
        )
        wire["points_m"] = [
            list(point) for point in draw(st.lists(corner, min_size=2, max_size=5))
        ]
    return wire


@st.composite
def skylines(draw):
    """A horizon profile in order of azimuth."""
    azimuths = draw(st.lists(st.integers(0, 359), min_size=2, max_size=6, unique=True))
    return [[az, draw(st.floats(0, 60))] for az in sorted(azimuths)]


@st.composite
def stations(draw):
    """What a good station file may hold."""
    values = {
        "place": draw(PLACES),
        "power_w": draw(st.floats(0.001, 10_000)),
        "emission": draw(EMISSIONS),
        "noise": draw(NOISES),
        "noise_trim_db": draw(st.floats(-20, 20)),
        "ground": draw(GROUNDS),
        "horizon_deg": draw(st.floats(0, 60)),
        "setups": draw(
            st.lists(
                QUICK_WIRES, min_size=1, max_size=2, unique_by=lambda w: w["shape"]
            )
        ),
    }
    if draw(st.booleans()):
        values["horizon"] = draw(skylines())
    if draw(st.booleans()):
        values["far_end"] = {
            "antenna": draw(st.sampled_from(["dipole", "isotropic", "vertical"])),
            "noise": draw(NOISES),
            "power_w": draw(st.floats(0.001, 10_000)),
        }
    if draw(st.booleans()):
        values["emission"] = {
            "bandwidth_hz": draw(st.floats(0.1, 1e5)),
            "snr_db": draw(st.floats(-60, 60)),
        }
    if draw(st.booleans()):
        values["iaru_region"] = draw(st.sampled_from([1, 2, 3]))
        values["bands"] = draw(st.lists(st.sampled_from(BANDS), min_size=1, max_size=4))
    return values


@st.composite
def skies(draw):
    """Solar activity and what is assumed besides: words of `conditions_for`."""
    few = st.sampled_from([True, False, False])
    return {
        "r12": draw(st.floats(0, 250)) if draw(st.booleans()) else None,
        "kp": draw(st.floats(0, 9)) if draw(few) else None,
        "flare": draw(FLARES) if draw(few) else None,
        "proton_flux": draw(st.floats(0, 1e6)) if draw(few) else None,
        "soundings": (
            [f"{draw(st.floats(2, 12)):.1f}@{draw(PLACES)}"] if draw(few) else []
        ),
    }
