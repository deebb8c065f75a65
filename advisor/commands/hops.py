"""Take-off angle against distance, through example skies and your own."""

from __future__ import annotations

from typing import Any

import click

from advisor.commands import options as opt
from advisor.commands.common import conditions_for, start_time, station_for
from advisor.commands.emit import Report, emit, output_options
from advisor.commands.options import figure_option
from advisor.commands.provenance import provenance_of
from advisor.commands.todays_sky import check_fetch, todays_solar, with_today

_OF_A_PLACE = (
    *("place", "station_file", "start", "r12", "flux"),
    *("soundings", "ionosonde_files", "kp", "flare", "proton_flux", "fetch"),
)


@click.command()
@opt.place_options
@opt.hour_option("The hour there")
@opt.bands_option
@figure_option(
    "--distance-km KM", "Hop length; may be repeated.", "distances", multiple=True
)
@opt.sky_options
@opt.more_option
@output_options
def hops(bands: tuple[str, ...], distances: tuple[float, ...], **options: Any) -> None:
    """
    Show the take-off angle that a distance asks for, by band.

    Rays of one hop through three example skies and, with a place or an hour, through
    the sky there and then.

    \b
    Examples:
      skiplobe hops
      skiplobe hops --band "40 m" --distance-km 450 --distance-km 900
      skiplobe hops --from KF07jo --at 2026-12-05T18:00Z
    """  # noqa: D301
    has_place = any(options[name] not in (None, (), False) for name in _OF_A_PLACE)
    from advisor.answers.rows.inputs import utc_text
    from advisor.answers.rows.sky import HOPS_FORM, HopInputs, HopSky
    from advisor.answers.skies.hops import EXAMPLES, hop_bands, hop_rows, hop_sky
    from advisor.show.text.sky import hop_text

    skies: tuple[HopSky, ...] = EXAMPLES
    assumed: tuple[str, ...] = ()
    utc, solar, station, origins, region = None, None, None, None, 1
    is_demo = False
    if has_place:
        import numpy as np

        from advisor.answers.ask import solar_index
        from geo.places import parse_place

        station, origins, is_demo = station_for(options, has_targets=False)
        region = station.iaru_region
        first = start_time(options["start"], "--at", station.time_zone)
        options["hours"] = 1
        check_fetch(options, first)
        options, today = with_today(options, first, station.place)
        times = np.array([first])
        index = solar_index(times, r12=options["r12"], flux=options["flux"])
        if today:
            index = todays_solar(index, times, today)
        known = conditions_for(options, first, station.time_zone, station.place)
        known.check_against_map(times, index.r12)
        where = parse_place(station.place)
        skies = (hop_sky(where, first, index.r12, known), *EXAMPLES)
        utc, solar = utc_text(first), index.basis
        assumed = known.words(times, index.r12)
    chosen = hop_bands(bands, region)
    rows = hop_rows(skies, chosen, distances)
    names = tuple(band.name for band in chosen)

    def text() -> str:
        about = ["Demonstration (no station and no place given)."] if is_demo else []
        about += [f"{utc}, {solar}.", *assumed] if has_place else []
        return "\n\n".join([*about, hop_text(skies, rows)])

    report = Report(
        HOPS_FORM,
        HopInputs(names, distances, utc, solar, assumed, skies),
        text,
        lambda: rows,
        first=("Low rays",),
    )
    emit(report, lambda: provenance_of(station, origins))
