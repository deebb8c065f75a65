"""
What the studies of reception ask of the program: one place, a few names of it.

Every figure is a chance that a level is passed, read from `chance` for a row of needed
levels, so that nothing of the sky's inside (modes, rays, losses) is known here.
"""

from dataclasses import dataclass, replace

import numpy as np

from advisor.antenna.ground import ground_by_name
from advisor.engine.contact import contact_chance
from advisor.engine.engine import BOTH_WAYS_FROM_KM, End, gains_towards, link_over
from advisor.engine.link import either_way, power_through
from advisor.engine.wires import FAR_END_PATTERNS
from advisor.propagation.noise import Noise
from geo.ionosphere.layers import layers_at
from geo.paths import paths_to
from geo.solar import r12_at

GROUND = "average"
HORIZON_DEG = 3.0
# From a ratio in 2.5 kHz to one in 1 Hz.
PER_HZ_DB = 10.0 * np.log10(2500.0)


@dataclass(frozen=True)
class Receiver:
    """A place that listens: degrees, kind of place for the noise, pattern by MHz."""

    lat_deg: float
    lon_deg: float
    pattern: object
    noise: str = "residential"


def far_end(kind):
    """Pattern of a kind of far end's antenna by frequency."""
    return lambda mhz: FAR_END_PATTERNS[kind](mhz, ground_by_name(GROUND))


def hours_of(day):
    """Whole hours of a day, datetime64[s]."""
    return np.datetime64(day, "s") + np.arange(24) * np.timedelta64(3600, "s")


def link_to(receiver, lat_deg, lon_deg, times, mhz, far_pattern, power_w=1.0):
    """
    The sky's half from a receiver to far transmitters, with both patterns.

    Far places both ways round, as the program answers.
    """
    lat, lon = np.atleast_1d(lat_deg), np.atleast_1d(lon_deg)
    own = [receiver.pattern(each).mean_over_azimuth() for each in mhz]
    end = End(power_w, receiver.noise)

    def one_way(some, long_path):
        paths = paths_to(
            receiver.lat_deg,
            receiver.lon_deg,
            lat[some],
            lon[some],
            long_path=long_path,
        )
        layers = layers_at(
            paths.control_lat_deg.ravel(),
            paths.control_lon_deg.ravel(),
            times,
            r12_at(times)[0],
        )
        return link_over(
            paths,
            layers,
            mhz,
            [far_pattern(each) for each in mhz],
            here=end,
            there=end,
            snr_db_hz=0.0,
            horizon_deg=HORIZON_DEG,
            ground=GROUND,
        )

    link = one_way(np.arange(lat.size), False)
    far = np.flatnonzero(link.paths.distance_km > BOTH_WAYS_FROM_KM)
    if far.size:
        other = one_way(far, True)
        better = power_through(other) > power_through(link)[far]
        link = either_way(link, other, far, better)
    return link, gains_towards(link, own, ground_by_name(GROUND), [0.0])


def share_above(link, gains, needs_db, power_db=0.0):
    """
    Share of days on which the ratio here is above each need, (N, P, T, B).

    Needs are signal over noise in 1 Hz; ``power_db`` is added to the far end's power.
    """
    found = []
    for need in np.atleast_1d(needs_db):
        level = np.broadcast_to(link.hear_db + power_db - need, link.hear_db.shape)
        asked = replace(link, hear_db=level, heard_db=level)
        found.append(contact_chance(asked, gains).hear[0])
    return np.array(found)


def share_both(link, gains, need_db):
    """Share of days on which the ratio is above a need at both ends, (P, T, B)."""
    asked = replace(
        link, hear_db=link.hear_db - need_db, heard_db=link.heard_db - need_db
    )
    return contact_chance(asked, gains).both[0]


def without_noise(link):
    """The same link with the signal alone: ratios become levels over 1 W, in dB."""
    silent = Noise(*(np.zeros(link.hear_db.shape) for _ in range(3)))
    return replace(
        link,
        hear_db=np.zeros(link.hear_db.shape),
        heard_db=np.zeros(link.hear_db.shape),
        noise_here=silent,
        noise_far=silent,
    )


def quantile_of(levels_db, shares, share):
    """Level passed on a share of days: -inf below the lowest, (...) of (N, ...)."""
    flat = shares.reshape(len(levels_db), -1)
    found = np.array(
        [
            # Shares fall with the level; the least is searched from the top.
            np.interp(share, column[::-1], levels_db[::-1])
            if column[0] >= share
            else -np.inf
            for column in flat.T
        ]
    )
    return found.reshape(shares.shape[1:])
