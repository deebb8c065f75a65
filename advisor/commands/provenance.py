"""What an answer was made from: version, tables, packages, and every input."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.options import APP
from advisor.commands.todays_sky import FETCHED

if TYPE_CHECKING:
    from advisor.engine.question import Question
    from advisor.station.station import Station

PACKAGES = ("numpy", "scipy", "skyfield", "skyfield-data", "jplephem")
"""Packages whose version can change a figure."""

_KERNEL = "de421.bsp"


def program_provenance() -> dict[str, Any]:
    """
    Tell the version and the checksum of every table.

    Returns
    -------
    provenance : dict
        What every answer is made from.
    """
    from importlib.metadata import version

    from geo.tables import checksums

    return {"program": APP, "version": version(APP), "tables_sha256": checksums()}


def provenance_of(
    station: Station | None = None,
    origins: Mapping[str, str] | None = None,
    question: Question | None = None,
) -> dict[str, Any]:
    """
    Tell what an answer is made from; as much of it as the command line asks for.

    Parameters
    ----------
    station : Station, optional
        Who asks, as the station file and the options have it.
    origins : mapping of str to str, optional
        Where each of its values came from.
    question : Question, optional
        What is asked.

    Returns
    -------
    provenance : dict
        Fields of `advisor.answers.rows.inputs.Provenance`; with ``--provenance`` also
        packages, the checksum of the ephemeris and every input with its origin.
    """
    found = program_provenance()
    context = click.get_current_context()
    if not context.params.get("with_provenance"):
        return found
    fetched = context.meta.get(FETCHED)
    from importlib.metadata import version

    inputs: list[tuple[str, str, str]] = []
    if station is not None:
        from advisor.station.described import describe

        # A command without these options does not use the station's own wires.
        has_wires = "setup_names" in context.params
        inputs += [
            row
            for row in describe(station, origins or {})
            if has_wires or not row[0].startswith("setups[")
        ]
    if question is not None:
        inputs += _of_question(question, context)
    else:
        inputs += _of_options(context)
    return found | {
        "packages": {name: version(name) for name in PACKAGES},
        "data_sha256": {f"skyfield-data {_KERNEL}": _kernel_checksum()},
        "fetched": fetched,
        "inputs": [
            {"key": key, "value": value, "origin": origin}
            for key, value, origin in inputs
        ],
    }


def with_provenance(text: str, provenance: Callable[[], Mapping[str, Any]]) -> str:
    """
    Add to an answer what it was made from, if that is asked for.

    Parameters
    ----------
    text : str
        The answer, in the format asked for.
    provenance : callable
        Gives what `provenance_of` does.

    Returns
    -------
    text : str
        Prose has it after the answer, CSV in lines that begin with ``#`` before the
        rows; formats with a place of their own for it are returned as they are.
    """
    params = click.get_current_context().params
    if not params.get("with_provenance"):
        return text
    if params.get("as_csv"):
        return "".join(f"# {line}\n" for line in _lines(provenance())) + text
    if any(params.get(name) for name in params if name.startswith("as_")):
        return text
    return (
        text.rstrip("\n") + "\n\nMade from\n" + "\n".join(_lines(provenance())) + "\n"
    )


def _lines(provenance: Mapping[str, Any]) -> Iterator[str]:
    """List what an answer was made from, one thing a line."""
    yield f"{provenance['program']} {provenance['version']}"
    for name, version in provenance["packages"].items():
        yield f"package {name} {version}"
    for what in ("tables_sha256", "data_sha256"):
        for name, digest in provenance[what].items():
            yield f"sha256 {digest} {name}"
    if provenance["fetched"]:
        yield f"fetched {provenance['fetched']}"
    for row in provenance["inputs"]:
        value = str(row["value"]).replace("\n", " ")
        yield f"input {row['key']} = {value} ({row['origin']})"


def _of_question(
    question: Question, context: click.Context
) -> Iterator[tuple[str, str, str]]:
    """List the inputs besides the station: key, value and origin."""
    file = "station file"
    for i, target in enumerate(question.targets):
        count = target.weight.size
        yield (
            f"to[{i}]",
            f"{target.name}, {count} sample point{'s' if count > 1 else ''} weighted "
            f"by {target.weight_source}",
            _origin(context, "targets" if "targets" in context.params else "target")
            or file,
        )
    first = f"{question.times[0].astype('datetime64[m]')}Z"
    yield "date", first, _origin(context, "start") or "clock"
    yield "hours", str(question.times.size), _origin(context, "hours") or "default"
    bands = ", ".join(band.name for band in question.bands)
    yield "bands", bands, _origin(context, "bands") or "all that a set-up works on"
    solar = question.solar
    where = next((o for n in ("r12", "flux") if (o := _origin(context, n))), None)
    if where and context.meta.get(FETCHED):
        where = "fetched"
    yield (
        "solar activity",
        solar.basis,
        where or "solar_monthly.ecsv, ionospheric_index.ecsv",
    )
    path = "the long way" if question.long_path else "the short way"
    yield "path", path, _origin(context, "long_path") or "default"
    quiet = ("no sounding, storm, flare or protons",)
    fetched = question.conditions.measured_words(question.times, solar.r12)
    for words in question.assumed or quiet:
        origin = "default" if words in quiet else "option"
        if words in fetched:
            origin = "fetched"
        elif words == question.station.taught:
            origin = "station file"
        yield "assumed", words, origin


def _of_options(context: click.Context) -> Iterator[tuple[str, str, str]]:
    """Options that were given to a command that puts no question."""
    for parameter in context.command.params:
        name = parameter.name or ""
        origin = _origin(context, name)
        if origin and not name.startswith(("as_", "with_")):
            value = context.params[name]
            several = isinstance(value, tuple)
            text = ", ".join(str(each) for each in value) if several else str(value)
            yield parameter.opts[0].lstrip("-"), text, origin


def _origin(context: click.Context, name: str) -> str | None:
    """Where the value of an option came from; None if it was not given."""
    source = context.get_parameter_source(name)
    if source is click.core.ParameterSource.COMMANDLINE:
        return "option"
    if source is click.core.ParameterSource.ENVIRONMENT:
        return "environment"
    return None


def _kernel_checksum() -> str:
    """SHA-256 of the ephemeris that the sun's place is read from."""
    import hashlib
    from importlib.resources import files

    kernel = files("skyfield_data") / "data" / _KERNEL
    return hashlib.sha256(kernel.read_bytes()).hexdigest()
