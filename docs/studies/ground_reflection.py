"""
What does a hop lose where it touches the ground, against a flat 2 dB? (2026-11)

Usage: ``python docs/studies/ground_reflection.py``

Prints the loss of one reflection off sea and several kinds of land by angle and
frequency, then what a touch costs on average on paths between sample points of
countries all over the world. The result is discussed in ground_reflection.md.
"""

import numpy as np

from advisor.propagation.losses import reflection_loss_db
from advisor.propagation.mode_axis import F2_LOW
from advisor.propagation.modes import hop_modes
from geo.ionosphere.layers import layers_at
from geo.paths import paths_to
from geo.tables import read_table

FREQUENCY_MHZ = np.array([1.85, 3.6, 7.1, 14.1, 21.2, 28.5])
ANGLES_DEG = (1.0, 3.0, 5.0, 8.0, 12.0, 20.0, 30.0, 60.0)
FLAT_DB = 2.0
MODES = 3


def one_touch() -> None:
    """Print the loss of one reflection by angle and frequency."""
    for kind in ("sea water", "land", "average", "medium dry", "ice"):
        print(f"\n{kind}, dB by angle (down) and MHz (across)")
        print("| deg | " + " | ".join(f"{f:g}" for f in FREQUENCY_MHZ) + " |")
        for angle in ANGLES_DEG:
            loss = reflection_loss_db(FREQUENCY_MHZ, angle, kind)
            print(f"| {angle:g} | " + " | ".join(f"{x:.1f}" for x in loss) + " |")


def many_paths(pairs: int = 400) -> None:
    """Print what a touch costs on the lowest F2 modes of paths round the world."""
    table = read_table("target_points")
    lat, lon = table.numbers("lat_deg"), table.numbers("lon_deg")
    rng = np.random.default_rng(533)
    times = np.datetime64("2026-03-21", "s") + np.arange(0, 24, 6) * np.timedelta64(
        3600, "s"
    )
    per_touch = {name: [] for name in ("4000 to 9000 km", "9000 to 18000 km")}
    while sum(len(found) for found in per_touch.values()) < pairs:
        one, other = rng.integers(0, lat.size, 2)
        paths = paths_to(lat[one], lon[one], [lat[other]], [lon[other]])
        far = float(paths.distance_km[0])
        if not 4000.0 < far < 18000.0:
            continue
        layers = layers_at(
            paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel(), times, 60.0
        )
        modes = hop_modes(paths, layers, FREQUENCY_MHZ)
        low = slice(F2_LOW.start, F2_LOW.start + MODES)
        touches = modes.hops[0, low] - 1
        loss = modes.losses_db["ground_reflection"][0, ..., low] / touches
        up = modes.takeoff_deg[0, ..., low] > 3.0
        name = list(per_touch)[far > 9000.0]
        per_touch[name].append(loss[up].mean())
    print("\nper touch on the three lowest F2 modes, rays above 3 degrees")
    for name, values in per_touch.items():
        low, middle, high = np.nanquantile(values, (0.1, 0.5, 0.9))
        print(
            f"{name}: {len(values)} paths, mean {np.nanmean(values):.2f} dB, "
            f"deciles {low:.2f}, {middle:.2f}, {high:.2f} (flat: {FLAT_DB:g})"
        )


if __name__ == "__main__":
    one_touch()
    many_paths()
