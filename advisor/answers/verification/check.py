"""A log or a file of spots against what the program tells of the same hours."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from itertools import pairwise

import numpy as np

from advisor.answers.rows.check import (
    CheckDetails,
    CheckInputs,
    CheckRow,
    Clock,
    LevelOff,
    Score,
    Surprise,
    Told,
)
from advisor.answers.rows.inputs import utc_text
from advisor.answers.verification.blocks import ten_days
from advisor.answers.verification.learn import Levels, corrections
from advisor.answers.verification.scores import (
    FEWEST,
    best_shift,
    bin_of,
    binned,
    brier_parts,
    error_of_mean,
    rank,
    skill,
    usual_shares,
)
from advisor.answers.verification.told import (
    PER_HZ_DB,
    Setting,
    cells_of,
    day_chances,
    level_told_db,
    needs_db,
    powers_dbw,
    share_above,
    told_shares,
)
from advisor.answers.verification.trials import Trials, trials_of
from advisor.logs.sightings import CONTACT, HEARD, HEARD_ME, WAYS, Sightings
from geo.arrays import Bools, Floats, Indices
from geo.errors import InputError
from geo.fields import record
from geo.sphere import distance_km

MOST_CELLS = 8_000
"""More figures of the sky than this are not worked out unless all are asked for: some
half a minute."""

LEAST_TAKEN = 1e-3
"""A smaller share of the far ends is not drawn."""

HOURS_A_PART = 4
DISTANCES_KM = (0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 20_100.0)
"""Parts of the day and of the distance that are shown apart."""

SURPRISES, BROKEN_SHOWN = 10, 10
UNLIKELY = 0.3
"""Only what was told under this chance, or over the rest of it, is a surprise. The
project's choice."""

_OF_THE_CLOCK = 120
_LEAST_OFF_DB, _MOST_OFF_DB = -25.0, 40.0
_EVEN = 0.7548776662466927, 0.5698402909980532
"""Steps that fill a square evenly: powers of 1 over the plastic number."""
_BAND, _DAY_PARTS = "band", "hours"


@record
class Checked:
    """
    A log held against what is told.

    Attributes
    ----------
    inputs : CheckInputs
        What was understood.
    rows : tuple of CheckRow
        All, then part by part.
    details : CheckDetails
        What stands beside them.
    """

    inputs: CheckInputs
    rows: tuple[CheckRow, ...]
    details: CheckDetails


@dataclass(frozen=True, eq=False)
class _Held:
    """Trials with what was told of them; arrays of one length."""

    seen: Sightings
    trials: Trials
    said: Floats
    level_off_db: Floats
    hour_rank: Floats
    band_rank: Floats
    chance: Floats
    usual: Floats
    distance_km: Floats


def check(
    seen: Sightings,
    setting: Setting,
    names: tuple[str, ...],
    why: Callable[[Surprise], str],
    step: Callable[[int, int], None] = lambda *_: None,
    *,
    everything: bool = False,
) -> Checked:
    """
    Hold rows of a log or of spots against what the program tells.

    Parameters
    ----------
    seen : Sightings
        The rows, at least one.
    setting : Setting
        Station, place and wires.
    names : tuple of str
        What to call the files.
    why : callable
        Makes the command that lays a surprise open.
    step : callable, optional
        Told how many figures of the sky were worked out, and of how many.
    everything : bool, optional
        Work out every row, however many there are.

    Returns
    -------
    found : Checked
        Scores, parts, surprises.

    Raises
    ------
    InputError
        If there is no row.
    """
    if not seen.times.size:
        first = f"; the first: {seen.broken[0].why}" if seen.broken else ""
        raise InputError(f"no row could be used, {len(seen.broken)} are broken{first}")
    trials = trials_of(seen)
    is_ranked = (seen.way[trials.row] == WAYS.index(CONTACT)) & ~trials.counts
    tried, ranked = trials.where(~is_ranked), trials.where(is_ranked)
    reported, reports = _reports(seen, ranked)
    asked = (
        (seen, tried, False),
        (seen, ranked, True),
        (reported, reports, False),
    )
    kept, taken = [each for _, each, _ in asked], 1.0

    def size() -> int:
        return sum(
            cells_of(rows, each, setting, whole_days=whole) if each.row.size else 0
            for (rows, _, whole), each in zip(asked, kept, strict=True)
        )

    total = size()
    # Far ends share figures, so that half of them may want more than half.
    while total > MOST_CELLS and not everything and taken > LEAST_TAKEN:
        taken *= min(MOST_CELLS / total, 0.9)
        kept = [each.where(_drawn(rows, each, taken)) for rows, each, _ in asked]
        total = size()
    tried, ranked, reports = kept
    done = [0]

    def tick(cells: int) -> None:
        done[0] += cells
        step(cells, total)

    shares = told_shares(seen, tried, setting, tick)
    held, levels, levelled = _held_tried(seen, tried, setting, shares)
    ranks, of_day = _held_ranked(seen, ranked, setting, tick)
    of_contacts = told_shares(reported, reports, setting, tick, of_contacts=True)
    more, of_reports = _held_reports(reported, reports, setting, of_contacts)
    everyone = [each for each in (held, ranks, more) if each.trials.row.size]
    counts = held.trials.counts
    score = _score(held, held.said) if counts.any() else None
    return Checked(
        _inputs(seen, setting, names, taken),
        tuple(_rows(everyone)),
        CheckDetails(
            diagram=_diagram(held),
            score=score,
            levels=(*levels, *of_reports),
            score_with_levels=_score(held, levelled)
            if score is not None and levels
            else None,
            corrections=corrections(
                (
                    Levels(seen, tried, shares),
                    Levels(reported, reports, of_contacts),
                ),
                setting,
            ),
            clock=_clock(seen, setting, held.trials, ranked, of_day),
            surprises=tuple(_surprises(held, ranks, why)),
            broken_rows=len(seen.broken),
            broken=seen.broken[:BROKEN_SHOWN],
        ),
    )


def _drawn(seen: Sightings, trials: Trials, share: float) -> Bools:
    """Draw a share of the far ends, others for every ten days, evenly."""
    months, third = ten_days(trials)
    when = 3 * months.astype(int) + third
    return np.asarray((seen.who[trials.row] * _EVEN[0] + when * _EVEN[1]) % 1.0 < share)


def _inputs(
    seen: Sightings, setting: Setting, names: tuple[str, ...], taken: float
) -> CheckInputs:
    """Say what was understood."""
    contacts = int(np.sum(seen.way == WAYS.index(CONTACT)))
    in_use = set(seen.band.tolist())
    return CheckInputs(
        files=names,
        place=setting.station.place,
        wires=tuple(each.name for each in setting.wires if each.name),
        bands=tuple(band.name for band in setting.bands if band.name in in_use),
        first=utc_text(seen.times[0]),
        last=utc_text(seen.times[-1]),
        rows=seen.times.size,
        far_ends=np.unique(seen.who).size,
        spots=seen.times.size - contacts,
        contacts=contacts,
        names_failures=not seen.worked.all(),
        taken=taken,
    )


def _reports(seen: Sightings, ranked: Trials) -> tuple[Sightings, Trials]:
    """Make rows of what was heard here and there of the reports of contacts."""
    rows = ranked.row
    ways = []
    for way, ratio in ((HEARD, seen.hear_db), (HEARD_ME, seen.heard_db)):
        told = np.flatnonzero(np.isfinite(ratio[rows]))
        ways.append((WAYS.index(way), told, ratio[rows[told]]))
    of = np.concatenate([told for _, told, _ in ways])
    picked = {
        each.name: getattr(seen, each.name)[rows[of]]
        for each in fields(seen)
        if each.name != "broken"
    }
    picked["way"] = np.concatenate([np.full(told.size, way) for way, told, _ in ways])
    reports = replace(
        ranked.where(of),
        row=np.arange(of.size),
        ratio_db=np.concatenate([ratio for *_, ratio in ways]),
    )
    return Sightings(**picked), reports


def _offs(
    seen: Sightings, trials: Trials, setting: Setting, shares: Floats
) -> tuple[Floats, Floats, tuple[LevelOff, ...], Floats]:
    """Sender's need for a watt, level off, what brings it right, the need with that."""
    own, far = powers_dbw(seen, trials.row, setting)
    way = seen.way[trials.row]
    power = np.where(way == WAYS.index(HEARD), far, own)
    least = needs_db(seen, trials.row, setting) - power
    off = np.full(way.size, np.nan)
    right = least.copy()
    found = []
    for n, name in enumerate(WAYS[:2]):
        mine = way == n
        those = np.flatnonzero(mine & np.isfinite(trials.ratio_db))
        if not those.size:
            continue

        def level_off(constant: float, those: Indices = those) -> Floats:
            told = level_told_db(shares[:, those], least[those] + constant)
            told += power[those] - PER_HZ_DB - constant
            return np.asarray(told - trials.ratio_db[those])

        low, high = _LEAST_OFF_DB, _MOST_OFF_DB
        # The level told falls with the constant, if by less than it.
        for _ in range(12):
            middle = 0.5 * (low + high)
            low, high = (
                (middle, high) if level_off(middle).mean() > 0.0 else (low, middle)
            )
        constant = 0.5 * (low + high)
        off[those] = level_off(0.0)
        right[mine] += constant
        left = level_off(constant)
        # How fast the mean falls with the constant carries its error over to that.
        less, more = (level_off(constant + by).mean() for by in (-1.0, 1.0))
        fall = float(less - more) / 2.0
        error = error_of_mean(left, _clusters(trials)[those], FEWEST)
        found.append(
            LevelOff(
                way=name,
                constant_db=constant,
                error_db=error / fall if fall > 0.0 else float("nan"),
                rms_db=float(np.sqrt(np.mean(left**2))),
            )
        )
    return least, off, tuple(found), right


def _held_tried(
    seen: Sightings, trials: Trials, setting: Setting, shares: Floats
) -> tuple[_Held, tuple[LevelOff, ...], Floats]:
    """Spots and what was tried, with what was told; the chances with levels right."""
    least, off, levels, right = _offs(seen, trials, setting, shares)
    said = share_above(shares, least) * trials.shown
    held = _plain(seen, trials, setting, said=said, level_off_db=off)
    counts = trials.counts
    usual = np.full(said.size, np.nan)
    if counts.any():
        band = np.unique(seen.band, return_inverse=True)[1][trials.row]
        usual[counts] = usual_shares(
            trials.happened[counts],
            trials.shown[counts],
            (band * 24 + trials.hour)[counts],
            trials.day[counts],
        )
    levelled = share_above(shares, right) * trials.shown
    return replace(held, usual=usual), levels, levelled


def _held_ranked(
    seen: Sightings, trials: Trials, setting: Setting, tick: Callable[[int], None]
) -> tuple[_Held, Floats]:
    """Contacts with the ranks of their hour and band; their chances by hour."""
    chances = day_chances(seen, trials, setting, tick, all_bands=True)
    names = [band.name for band in setting.bands]
    band = np.array([names.index(name) for name in seen.band[trials.row]], dtype=int)
    rows = np.arange(band.size)
    of_day = chances[rows, :, band]
    of_hour = chances[rows, trials.hour]
    in_use = [names.index(name) for name in np.unique(seen.band)]
    held = _plain(
        seen,
        trials,
        setting,
        chance=of_day[rows, trials.hour],
        hour_rank=np.array(
            [
                rank(day[h], np.delete(day, h))
                for day, h in zip(of_day, trials.hour, strict=True)
            ]
        ),
        band_rank=np.array(
            [
                rank(told[b], told[[each for each in in_use if each != b]])
                if len(in_use) > 1
                else np.nan
                for told, b in zip(of_hour, band, strict=True)
            ]
        ),
    )
    return held, of_day


def _held_reports(
    seen: Sightings, trials: Trials, setting: Setting, shares: Floats
) -> tuple[_Held, tuple[LevelOff, ...]]:
    """Levels of the reports of contacts."""
    _, off, levels, _ = _offs(seen, trials, setting, shares)
    return _plain(seen, trials, setting, level_off_db=off), levels


def _plain(seen: Sightings, trials: Trials, setting: Setting, **told: Floats) -> _Held:
    """Put trials and what is told of them together; the rest is not told."""
    rows = trials.row
    nothing = np.full(rows.size, np.nan)
    here = [
        np.where(np.isfinite(each), each, usual)[rows]
        for each, usual in (
            (seen.own_lat_deg, setting.lat_deg),
            (seen.own_lon_deg, setting.lon_deg),
        )
    ]
    far = seen.far_lat_deg[rows], seen.far_lon_deg[rows]
    own = {
        each.name: told.get(each.name, nothing)
        for each in fields(_Held)[2:]
        if each.name != "distance_km"
    }
    return _Held(seen, trials, **own, distance_km=distance_km(here[0], here[1], *far))


def _score(held: _Held, said: Floats) -> Score:
    """Scores of chances, of what counts."""
    trials = held.trials
    those = trials.counts
    band = np.unique(held.seen.band, return_inverse=True)[1][trials.row]
    came, told = trials.happened[those], said[those]
    of_band = usual_shares(came, trials.shown[those], band[those])
    return Score(
        **vars(brier_parts(told, came)),
        skill_of_band=skill(told, of_band, came),
        skill_of_hours=skill(told, held.usual[those], came),
    )


def _diagram(held: _Held) -> tuple[Told, ...]:
    """Hold what came against what was told, by tenths of that."""
    those = held.trials.counts
    if not those.any():
        return ()
    said, came = held.said[those], held.trials.happened[those]
    place, cluster = bin_of(said), _clusters(held.trials)[those]
    return tuple(
        Told(int(n), float(told), float(share), _error(came, cluster, place == k))
        for k, (n, told, share) in enumerate(zip(*binned(said, came), strict=True))
    )


def _error(values: Bools | Floats, cluster: Indices, wanted: Bools) -> float:
    """Error of the mean of some values."""
    return error_of_mean(values[wanted], cluster[wanted])


def _clusters(trials: Trials) -> Indices:
    """Days, or the hours of a file of one day."""
    one_day = np.unique(trials.day).size < 2
    return trials.hour if one_day else trials.day


def _part_names(held: _Held) -> Iterator[tuple[str, list[str]]]:
    """Each way of parting, with the part of every trial."""
    seen, trials = held.seen, held.trials
    band = seen.band[trials.row].tolist()
    first = trials.hour // HOURS_A_PART * HOURS_A_PART
    hours = [f"{h:02d}-{h + HOURS_A_PART:02d}Z" for h in first.tolist()]
    place = np.digitize(held.distance_km, DISTANCES_KM[1:-1]).tolist()
    spans = [
        f"{low:.0f}-{high:.0f} km" if high < DISTANCES_KM[-1] else f"over {low:.0f} km"
        for low, high in pairwise(DISTANCES_KM)
    ]
    yield "all", ["all"] * len(band)
    yield _BAND, band
    yield _DAY_PARTS, hours
    yield "distance", [spans[k] for k in place]
    yield "way", [WAYS[k] for k in seen.way[trials.row].tolist()]
    yield "band and hours", [f"{b}, {h}" for b, h in zip(band, hours, strict=True)]


def _rows(everyone: list[_Held]) -> Iterator[CheckRow]:
    """All and every part."""
    parted = [dict(_part_names(each)) for each in everyone]
    order = [f"{km:.0f}" for km in DISTANCES_KM]
    for part in parted[0]:
        names = {name for each in parted for name in each[part]}

        def rank_of(name: str, part: str = part) -> tuple[float, str]:
            plain = name.replace("over ", "").partition("-")[0].partition(" ")[0]
            if part == "distance":
                return float(order.index(plain)), name
            return (-float(plain) if part.startswith(_BAND) else 0.0), name

        for name in sorted(names, key=rank_of):
            yield _row(
                part,
                name,
                [
                    (each, np.array(of[part]) == name)
                    for each, of in zip(everyone, parted, strict=True)
                ],
            )


def _row(part: str, name: str, those: list[tuple[_Held, Bools]]) -> CheckRow:
    """One part."""

    def all_of(key: str) -> tuple[Floats, Indices]:
        values = [getattr(held, key)[wanted] for held, wanted in those]
        days = [_clusters(held.trials)[wanted] for held, wanted in those]
        joined, when = np.concatenate(values), np.concatenate(days)
        known = np.isfinite(joined)
        return joined[known], when[known]

    def mean(values: Floats) -> float:
        return float(values.mean()) if values.size else float("nan")

    said, came, usual, when = [], [], [], []
    for held, wanted in those:
        keep = wanted & held.trials.counts
        said.append(held.said[keep])
        came.append(held.trials.happened[keep])
        usual.append(held.usual[keep])
        when.append(_clusters(held.trials)[keep])
    told, happened = np.concatenate(said), np.concatenate(came)
    level, level_day = all_of("level_off_db")
    chance, _ = all_of("chance")
    days = {int(day) for held, wanted in those for day in held.trials.day[wanted]}
    return CheckRow(
        part=part,
        name=name,
        tried=told.size,
        days=len(days),
        said=mean(told),
        came=mean(happened.astype(float)),
        off=mean(told - happened),
        off_error=error_of_mean(told - happened, np.concatenate(when)),
        brier=mean((told - happened) ** 2),
        skill=skill(told, np.concatenate(usual), happened)
        if told.size
        else float("nan"),
        levels=level.size,
        level_off_db=mean(level),
        level_error_db=error_of_mean(level, level_day, FEWEST),
        contacts=chance.size,
        chance=mean(chance),
        hour_rank=mean(all_of("hour_rank")[0]),
        band_rank=mean(all_of("band_rank")[0]),
        hour_rank_error=error_of_mean(*all_of("hour_rank"), FEWEST),
        band_rank_error=error_of_mean(*all_of("band_rank"), FEWEST),
    )


def _clock(
    seen: Sightings,
    setting: Setting,
    tried: Trials,
    ranked: Trials,
    of_day: Floats,
) -> Clock | None:
    """See whether the log's clock is off."""
    came = np.flatnonzero(tried.happened)
    some = came[:: -(-came.size // _OF_THE_CLOCK) or 1]
    spots = tried.where(some)
    chances = day_chances(seen, spots, setting, all_bands=False)[..., 0]
    every = np.concatenate([of_day, chances])
    hour, day = (
        np.concatenate([getattr(each, name) for each in (ranked, spots)])
        for name in ("hour", "day")
    )
    if np.unique(day).size < 2:
        return None
    return best_shift(every, hour, day)


def _surprises(
    held: _Held, ranks: _Held, why: Callable[[Surprise], str]
) -> Iterator[Surprise]:
    """Find the worst each way, those that came first; each place and band once."""
    counts = held.trials.counts
    came = counts & held.trials.happened
    for happened, candidates in (
        (True, [(held, held.said, came), (ranks, ranks.chance, ranks.chance >= 0.0)]),
        (False, [(held, -held.said, counts & ~held.trials.happened)]),
    ):
        listed = []
        for each, order, wanted in candidates:
            unlike = np.abs(np.nan_to_num(order, nan=0.5) - (0 if happened else -1))
            rows = np.flatnonzero((unlike < UNLIKELY) & wanted)
            listed += [(float(order[i]), int(i), each) for i in rows]
        met: set[tuple[float, float, str]] = set()
        for value, i, each in sorted(listed, key=lambda one: one[:2]):
            row = int(each.trials.row[i])
            # Stations of one square or country are one place to the sky.
            lat_deg, lon_deg = each.seen.far_lat_deg[row], each.seen.far_lon_deg[row]
            key = round(lat_deg, 2), round(lon_deg, 2), str(each.seen.band[row])
            if key in met:
                continue
            met.add(key)
            hour = each.trials.day[i].astype("datetime64[D]").astype("datetime64[h]")
            utc = utc_text(hour + np.timedelta64(int(each.trials.hour[i]), "h"))
            seen = each.seen
            found = Surprise(
                utc=utc,
                band=key[2],
                way=WAYS[seen.way[row]],
                came=happened,
                said=abs(value),
                distance_km=float(each.distance_km[i]),
                lat_deg=float(lat_deg),
                lon_deg=float(lon_deg),
                emission=str(seen.emission[row]),
                own_power_w=float(seen.own_power_w[row]),
                far_power_w=float(seen.far_power_w[row]),
                why="",
            )
            yield replace(found, why=why(found))
            if len(met) == SURPRISES:
                break
