"""
Run the command line: ``skiplobe``, or ``python -m advisor``.

Whatever stops it before or behind the commands ends in one line too, so little is
imported here.
"""

import os
import sys


def run() -> None:
    """
    Run the command that was typed and leave with its exit code.

    Raises
    ------
    SystemExit
        Always.
    """
    for name in ("advisor", "geo"):
        if getattr(__import__(name), "PART_OF", "") != "skiplobe":
            _leave(
                f"its package '{name}' has been replaced by another of that name: "
                "install skiplobe into an environment of its own (pipx, or a venv)",
                1,
            )
    try:
        from advisor.cli import main

        main(prog_name="skiplobe")
    except KeyboardInterrupt:
        _leave("stopped", 130)
    except OSError as error:
        # Of what writes to the screen without looking, such as help.
        _leave(f"cannot write: {error.strerror or error}", 1)


def _leave(reason: str, code: int) -> None:
    """Say one line and leave; what stdout still holds is given up."""
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    print(f"skiplobe: {reason}", file=sys.stderr)  # noqa: T201 - click may not be there
    raise SystemExit(code)


if __name__ == "__main__":
    run()
