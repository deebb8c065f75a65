"""
The command line: one group, one module of `advisor.commands` for each command.

A command parses, calls one library function and shows what it gives back.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pkgutil import iter_modules
from typing import IO, Any

import click

from advisor import commands
from advisor.commands.hang import STOPPED
from advisor.commands.options import APP
from geo.errors import InputError, one_line


class Failed(click.ClickException):
    """Something failed; said on one line."""

    exit_code = 1

    def show(self, file: IO[Any] | None = None) -> None:
        """Say it where talk goes."""
        click.echo(f"{APP}: {one_line(self.message)}", file=file, err=file is None)


class Refused(Failed):
    """Something asked for is not possible; said on one line."""

    exit_code = 2


class Stopped(Failed):
    """Ctrl-C was pressed."""

    exit_code = STOPPED


class OneLineErrors(click.Group):
    """A group that turns what went wrong into one line and exit code 1 or 2."""

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        """Read the group's own options; show what is wrong with them on one line."""
        with _one_line():
            return super().make_context(*args, **extra)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; refuse it if two wires stand where one counts."""
        meant = _MEANT_COMMANDS.get(args[0]) if ctx.parent is None else None
        if meant and args[0] not in self.commands:
            raise click.UsageError(
                f"no command '{args[0]}': did you mean '{meant}'?", ctx
            )
        name, command, rest = super().resolve_command(ctx, args)
        if command is not None and not ctx.resilient_parsing:
            own = click.Context(command, info_name=name, parent=ctx)
            _check_one_wire(own, command.make_parser(own).parse_args(list(rest))[2])
        return name, command, rest

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; show an `InputError` as a usage error without a trace."""
        try:
            with _one_line():
                return super().invoke(ctx)
        except InputError as error:
            if ctx.params.get("debug"):
                raise
            raise Refused(str(error)) from None


def _check_one_wire(context: click.Context, typed: list[click.Parameter]) -> None:
    """Refuse a second wire by option, of which only the last would count."""
    once = [each.opts[0] for each in typed if not getattr(each, "multiple", False)]
    if once.count("--shape") > 1:
        raise click.UsageError(
            "--shape is one wire: several stand side by side in a station file", context
        )


_HELP_ASKED = getattr(click.exceptions, "NoArgsIsHelpError", click.exceptions.Exit)
"""A group called without a command shows its help; of a class of its own since
click 8.2."""


@contextmanager
def _one_line() -> Iterator[None]:
    """Turn click's own errors, which take several lines, into one."""
    try:
        yield
    except Failed:
        raise
    except _HELP_ASKED as asked:
        # Help is what was wanted: not an error, and not on standard error.
        context = getattr(asked, "ctx", None)
        if context is None:
            raise
        click.echo(context.get_help())
        context.exit(0)
    except click.UsageError as error:
        path = error.ctx.command_path if error.ctx else APP
        command = " ".join([APP, *path.split()[1:]])
        said = " ".join(error.format_message().split()).rstrip(".")
        if isinstance(error, click.NoSuchOption):
            said = _elsewhere(error.option_name, command) or said
            meant = _MEANT.get(error.option_name)
            if meant:
                said = f"no option {error.option_name}: did you mean '{meant}'?"
        raise Refused(f"{said}; '{command} --help' tells more") from None
    except click.ClickException as error:
        raise Failed(error.format_message()) from None
    except KeyboardInterrupt:
        raise Stopped("stopped") from None
    except MemoryError:
        raise Failed(
            "not enough memory for this question: ask for fewer targets, hours or "
            "set-ups at once"
        ) from None


_MEANT = {
    "--sfi": "--flux", "--ssn": "--r12", "--mode": "--emission", "--power": "--power-w",
    "--zone": "--local", "--bearing": "--bearing-deg", "--height": "--height-m",
    "--length": "--length-m", "--target": "--to", "--time": "--date", "--at": "--date",
    "--page": "--sheet", "--html": "--sheet", "--k": "--kp", "--freq": "--band",
    "--hour": "--date", "--when": "--date",
}  # fmt: skip
"""What people type, and the option that it is here."""

_MEANT_COMMANDS = {
    "plan": "activation", "outing": "activation", "listen": "tonight --listen",
    "beacons": "tonight --listen", "bands": "tonight", "log": "check",
    "antenna": "wire", "bearing": "aim", "map": "chart map",
}  # fmt: skip
"""What people type, and the command that it is here."""


def _elsewhere(option: str, command: str) -> str:
    """Say which other commands have an option; empty if none has."""
    having = [
        " ".join(words)
        for words, each in _leaves(main, ())
        if any(option in parameter.opts for parameter in each.params)
    ]
    if not having:
        return ""
    verb = "has" if len(having) == 1 else "have"
    return f"'{command}' has no {option}: {', '.join(having)} {verb} it"


def _leaves(
    group: click.Group, words: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command with its words."""
    for name, each in group.commands.items():
        if isinstance(each, click.Group):
            yield from _leaves(each, (*words, name))
        else:
            yield (*words, name), each


@click.group(
    cls=OneLineErrors,
    context_settings={
        "help_option_names": ["-h", "--help"],
        "auto_envvar_prefix": APP.upper(),
        "max_content_width": 96,
    },
)
@click.version_option(package_name=APP)
@click.option("--debug", is_flag=True, help="Show where an error comes from.")
def main(debug: bool) -> None:
    """
    Which band, which bearing, which hour, with your wire.

    \b
    Examples:
      skiplobe tonight
      skiplobe tonight --from KF07jo --to "Eastern Africa" --shape dipole --height-m 8

    Times are UTC. Exit code 0: an answer (even "all closed"); 1: something failed;
    2: something asked for is not possible.
    """  # noqa: D301
    del debug
    # The wires' equations are many and small: threads would only wait for each other,
    # and the last digits of an answer would depend on how many there are.
    for library in ("OPENBLAS", "OMP", "MKL"):
        os.environ[f"{library}_NUM_THREADS"] = "1"
    # Charts are written to files only, whatever the user draws with elsewhere.
    os.environ["MPLBACKEND"] = "agg"
    # What it tells of its own caches is none of an operator's business.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    if os.environ.get("NO_COLOR"):
        click.get_current_context().color = False


# A command is what a module of `advisor.commands` holds under its own name.
for _found in iter_modules(commands.__path__):
    _module = import_module(f"{commands.__name__}.{_found.name}")
    if isinstance(_command := getattr(_module, _found.name, None), click.Command):
        main.add_command(_command)
