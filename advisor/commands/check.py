"""A log or a file of spots against what is told."""

from __future__ import annotations

import gzip
import math
import shlex
import zlib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import cache_dir, processes, station_for
from advisor.commands.emit import (
    Report,
    check_writable,
    emit,
    output_options,
    write,
    write_picture,
)
from advisor.commands.options import (
    APP,
    file_option,
    more_option,
    option,
    picture_option,
    station_options,
)
from advisor.commands.provenance import provenance_of
from advisor.commands.question import demo_line
from advisor.commands.screen import progress_bar
from advisor.commands.sheets import sheet_option, write_sheet
from geo.errors import InputError

if TYPE_CHECKING:
    from advisor.answers.rows.check import Surprise
    from advisor.answers.verification.check import Checked
    from advisor.answers.verification.told import Setting
    from advisor.logs.sightings import Broken, Row, Sightings
    from advisor.station.station import Station

MOST_BYTES = 400_000_000
"""A larger file, unpacked, is not read."""

_GZIP = b"\x1f\x8b"
_OTHERS = {
    *("output", "overwrite", "with_provenance", "no_cache"),
    *("files", "call", "everything", "chart", "learn", "write_to"),
    *("sheet_file", "more"),
}


@click.command()
@click.argument(
    "files",
    nargs=-1,
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    metavar="[FILE...]",
)
@option(
    "--call CALL",
    "Which call sign of a WSPR archive is yours, if it is not in every row.",
    default="",
)
@option("--all", "Work out every row, however long it takes.", "everything")
@picture_option(
    "--chart FILE", "Also draw what came against what was told there, .svg or .png."
)
@file_option(
    "--learn STATION.toml",
    "Propose corrections of this station: noise, level of the wire, far end.",
)
@file_option(
    "--write-to FILE", "With --learn: write the station with them there, a new file."
)
@station_options
@sheet_option
@more_option
@output_options
def check(
    files: tuple[Path, ...],
    call: str,
    everything: bool,
    chart: Path | None,
    learn: Path | None,
    write_to: Path | None,
    sheet_file: Path | None,
    **options: Any,
) -> None:
    """
    Hold your log, or spots of you or by you, against what is told.

    \b
    Examples:
      skiplobe check                            (the shipped demonstration)
      skiplobe check --station hill.toml log.adi
      skiplobe check --from KF07jo --shape dipole --height-m 8 spots.csv
      skiplobe check --provenance wspr.csv.gz   (places and powers from the file)
      skiplobe check --learn hill.toml --write-to learned.toml log.adi

    [FILE...] are ADIF logs, tables of the public WSPR archive, or plain tables with the
    columns time, band, where and way (see the guide), plain or gzipped. Rows that
    cannot be read are counted and shown. Nothing leaves this machine, and no call sign
    is kept.
    """  # noqa: D301
    from advisor.logs.columns import demo_log
    from advisor.logs.sightings import gather

    if learn is not None:
        options["station_file"] = _to_learn(learn, write_to, options)
    elif write_to is not None:
        raise InputError(
            "--write-to takes what is learned: name the station by --learn"
        )
    is_demo = not files
    if is_demo:
        files = (demo_log(),)
    seen = gather((path.name, _rows(path, call)) for path in files)
    station, origins, place = _station(seen, options, is_demo=is_demo)
    typed = [path for path, origin in origins.items() if origin == "option"]
    if learn is not None and typed:
        raise InputError(
            f"{learn} is what learns, and {typed[0]} is given by option: put it there"
        )
    if (
        station.terrain
        and write_to
        and write_to.absolute().parent != (learn or write_to).absolute().parent
    ):
        raise InputError(f"--write-to: {learn} names its tiles: write beside it")
    from advisor.answers.rows.check import FORM
    from advisor.answers.verification.check import check as held_against
    from advisor.show.text.check import MOST_WANTED, check_text

    setting = setting_for(
        seen, station, origins, cache_dir(options), has_wires=learn is not None
    )

    def why(surprise: Surprise) -> str:
        about = _about(surprise)
        learns = ["--station", str(learn)] if learn is not None else []
        return shlex.join([APP, "why", *learns, *_station_words(about), *place, *about])

    with progress_bar("Asking the sky", 1) as bar:

        def step(cells: int, of: int) -> None:
            bar.length = of
            bar.update(cells)

        found = held_against(
            seen,
            setting,
            tuple(path.name for path in files),
            why,
            step,
            everything=everything,
        )

    taught = ""
    if learn is not None:
        taught = _taught(learn, write_to, station, found)

    in_full = click.get_current_context().params["more"]
    report = Report(
        FORM,
        found.inputs,
        lambda: check_text(found, taught, in_full=in_full),
        rows=lambda: found.rows,
        details=lambda: found.details,
        note=demo_line(station, "no file given") if is_demo else "",
        first=MOST_WANTED,
    )
    emit(report, lambda: provenance_of(station, origins))
    if chart is not None:
        from advisor.show.charts import reliability

        write_picture(reliability.figure(found), chart, reliability.alt_text(found))
    if sheet_file is not None:
        from functools import partial

        from advisor.show.page.check import check_sheet

        make = partial(check_sheet, found, has_learned=learn is not None)
        write_sheet(sheet_file, None, report, make)


def _to_learn(station: Path, write_to: Path | None, options: Mapping[str, Any]) -> Path:
    """Refuse what cannot be learned or written, before anything is worked out."""
    if options["station_file"] not in (None, station):
        raise InputError("--learn and --station name two stations: leave one out")
    if write_to is not None:
        check_writable(write_to)
    return station


def _taught(file: Path, write_to: Path | None, station: Station, found: Checked) -> str:
    """Write the station with what was learned, if told to; say what became of it."""
    if not found.details.corrections:
        return f"Nothing is written; {file} is as good as this log can tell."
    if write_to is None:
        return "Nothing is written; --write-to FILE writes the station with this."
    from advisor.answers.verification.learn import learned_table
    from advisor.station.file import read_station
    from advisor.station.written import with_learned

    table = learned_table(station, found.inputs, found.details)
    text = with_learned(file.read_text(encoding="utf-8-sig"), table)
    read_station(text)
    write(text, write_to)
    return f"Written: {write_to} is {file} with this; '--station {write_to}' uses it."


def _rows(path: Path, call: str) -> Iterator[Row | Broken]:
    """Read the rows of a file."""
    from advisor.logs.columns import rows_of
    from advisor.logs.sightings import decoded_text

    try:
        with path.open("rb") as file:
            is_packed = file.read(2) == _GZIP
        with gzip.open(path) if is_packed else path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"cannot read '{path}': {reason}") from None
    if len(raw) > MOST_BYTES:
        raise InputError(f"'{path}' is larger than {MOST_BYTES // 1_000_000} MB")
    return rows_of(decoded_text(raw), path.name, call)


def _station(
    seen: Sightings, options: dict[str, Any], *, is_demo: bool
) -> tuple[Station, dict[str, str], list[str]]:
    """Put the station together, if need be with the place of the rows, as an option."""
    try:
        station, origins, invented = station_for(options, has_targets=not is_demo)
    except InputError:
        place = _place_in(seen)
        if options["place"] or options["station_file"] or place is None:
            raise
        station, origins, _ = station_for(options | {"place": place}, has_targets=True)
        return station, origins, ["--from", place]
    if is_demo and not invented:
        raise InputError("no file: name a log or a table of spots after 'check'")
    return station, origins, ["--from", station.place] if is_demo else []


def _place_in(seen: Sightings) -> str | None:
    """Find my place in the rows, the first they name."""
    import numpy as np

    known = np.flatnonzero(np.isfinite(seen.own_lat_deg))
    if not known.size:
        return None
    from geo.locator import latlon_to_locator

    return latlon_to_locator(
        float(seen.own_lat_deg[known[0]]), float(seen.own_lon_deg[known[0]])
    )


def setting_for(
    seen: Sightings,
    station: Station,
    origins: Mapping[str, str],
    cache: Path | None,
    *,
    has_wires: bool = False,
) -> Setting:
    """
    Put station, place and wires together; the usual dipole if none is named.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    station : Station
        Who made them.
    origins : mapping of str to str
        Where each of its values came from.
    cache : pathlib.Path or None
        Where wires and rays are kept between runs.
    has_wires : bool, optional
        Whether the wires of the station count though nothing names one.

    Returns
    -------
    setting : Setting
        On every band of the rows.
    """
    import numpy as np

    from advisor.answers.verification.told import Setting, Wire
    from advisor.antenna.ground import ground_by_name
    from advisor.engine.wires import assumed_pattern, solve_setup
    from advisor.station.bands import bands_for_region
    from geo.places import parse_place

    heard_on = set(np.unique(seen.band).tolist())
    bands = tuple(
        band for band in bands_for_region(station.iaru_region) if band.name in heard_on
    )
    place = parse_place(station.place)
    has_wires = has_wires or any(
        key.startswith("setups") and origin != "default"
        for key, origin in origins.items()
    )
    if has_wires:
        wires = tuple(
            Wire(
                setup.name,
                {
                    band: solved.pattern
                    for band, solved in solve_setup(
                        setup, bands, station.ground, cache, station.hills
                    ).items()
                },
                setup.bearing_deg,
            )
            for setup in station.setups
        )
    else:
        soil = ground_by_name(station.ground)
        usual = {band.name: assumed_pattern(band.planning_mhz, soil) for band in bands}
        wires = (Wire("", usual, None),)
    return Setting(
        *(station, place.lat_deg, place.lon_deg, bands, wires, cache), processes()
    )


def _about(surprise: Surprise) -> list[str]:
    """Write what a surprise was about as options of 'why'."""
    words = ["--to", f"{surprise.lat_deg:.2f},{surprise.lon_deg:.2f}"]
    words += ["--band", surprise.band, "--at", surprise.utc]
    if surprise.emission:
        words += ["--emission", surprise.emission]
    for name, power in (
        ("--power-w", surprise.own_power_w),
        ("--far-power-w", surprise.far_power_w),
    ):
        if math.isfinite(power):
            words += [name, f"{power:g}"]
    return words


def _station_words(others: Sequence[str]) -> list[str]:
    """Write the options of the station as they were typed, less those there are."""
    context = click.get_current_context()
    words = []
    for each in context.command.params:
        value = context.params.get(each.name or "")
        of_station = isinstance(each, click.Option) and each.name not in _OTHERS
        is_format = (each.name or "").startswith("as_")
        if not of_station or is_format or not value or each.opts[0] in others:
            continue
        for one in value if isinstance(value, tuple) else (value,):
            words += [each.opts[0], *([] if one is True else [_typed(one)])]
    return words


def _typed(value: object) -> str:
    """Write a value as it may be typed."""
    return f"{value:g}" if isinstance(value, float) else str(value)
