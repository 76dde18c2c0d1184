"""The command line: finds the command, runs it, and prints what went wrong as one line."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence

import click

from fieldsim import __version__
from fieldsim.errors import FieldsimError

__all__ = ["main", "run"]

# What each command does is here too, so that listing them imports none of them.
COMMANDS = {
    "check": "Check a geometry and print what it says.",
    "draw": "Draw the machine as a picture.",
    "flux": "Flux linkage against rotor angle.",
    "emf": "EMF at a speed: peak, RMS, rectified mean, frequency.",
    "compare": "Several designs side by side.",
    "gap": "How the voltage falls with the clearance.",
}


class _Commands(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"fieldsim.commands.{cmd_name}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="fieldsim")
def cli() -> None:
    """Compute what a small hand-cranked magnet generator gives, before it is wound.

    A geometry is a YAML file; the README lists its keys. Every command has --help.
    """


def _line(message: str) -> None:
    sys.stderr.write(f"fieldsim: {' '.join(message.split())}\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code: 0, or 2 for wrong input.

    Parameters
    ----------
    arguments
        Without the program's name; by default those of the process.
    """
    try:
        cli.main(args=list(arguments) if arguments is not None else None, standalone_mode=False)
    except FieldsimError as error:
        _line(str(error))
        return 2
    except click.ClickException as error:
        _line(error.format_message())
        return 2
    except (click.Abort, KeyboardInterrupt):
        _line("stopped")
        return 130
    except BrokenPipeError:
        # Whoever read the output has had enough; leave quietly, also at shutdown.
        sys.stdout = None  # type: ignore[assignment]
        return 0
    except MemoryError:
        _line("the machine has too little memory for this request")
        return 2
    return 0


def run() -> None:
    """Run the command line and end the process with its exit code."""
    sys.exit(main())
