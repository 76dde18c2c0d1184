"""The command line: finds the command, runs it, and prints what went wrong, one thing a line."""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import click

from fieldsim import __version__
from fieldsim.commands.messages import complain, spell_plainly
from fieldsim.errors import FieldsimError

if TYPE_CHECKING:
    from types import FrameType

__all__ = ["main", "run"]

_OBJECTS_BETWEEN_COLLECTIONS = 200_000

# What each command does is here too, so that listing them imports none of them.
COMMANDS = {
    "new": "A file to begin with.",
    "check": "Check a geometry and print what it says.",
    "draw": "Draw the machine as a picture.",
    "flux": "Flux linkage against rotor angle.",
    "emf": "EMF at a speed: peak, RMS, rectified mean, frequency.",
    "compare": "Several designs side by side.",
    "gap": "How the voltage falls with the clearance.",
    "parameters": "What can be changed about a machine, by path.",
    "vary": "One or two parameters against voltage, light, power and effort.",
    "effort": "What the hand feels at the crank, and what could come loose.",
    "wind": "What the wire comes to, and what each gauge would give.",
    "light": "What lights at a speed, and what the meters show.",
    "match": "The load, the gauge and the speed that fit.",
    "search": "The machine that fulfils a wish best.",
    "keys": "The keys of a geometry file.",
    "live": "The machine on a page with sliders, in your browser.",
    "report": "A page to keep: what lights, how hard it is, what helps most.",
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

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if not args:
            ctx.fail(f"give a command: {', '.join(COMMANDS)}; --help says what they do")
        return super().parse_args(ctx, args)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in COMMANDS:
            close = get_close_matches(args[0], COMMANDS, n=1)
            hint = f'; did you mean "{close[0]}"?' if close else "."
            ctx.fail(f'no command "{args[0]}"{hint} There are: {", ".join(COMMANDS)}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=_Commands, no_args_is_help=False, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(__version__, prog_name="fieldsim")
def cli() -> None:
    """Compute what a small hand-cranked magnet generator gives, before it is wound.

    A geometry is a YAML file; the README lists its keys. Every command has --help.
    """


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    That is 0, 1 where one of several designs failed and the others were done, or 2 for wrong input.

    Parameters
    ----------
    arguments
        Without the program's name; by default those of the process.
    """
    with _stops_noted() as stops:
        try:
            code = _answer(arguments)
        except Exception:
            # A library that is stopped while it loads may say anything, but not that.
            if not stops:
                raise
            complain("stopped")
            code = 130
    if stops and stops[0] != signal.SIGINT:
        # What was on its way is removed by now: end as whoever asked for it expects.
        os.kill(os.getpid(), stops[0])
    return code


@contextlib.contextmanager
def _stops_noted() -> Iterator[list[int]]:
    """Yield a list that grows when the program is asked to stop.

    Ctrl-C, the end of its terminal and a plain request to end are all raised as Ctrl-C usually is,
    so that files on their way are removed.
    """
    stops: list[int] = []

    def stop(number: int, frame: FrameType | None) -> None:
        del frame
        stops.append(number)
        if number == signal.SIGINT or len(stops) == 1:
            raise KeyboardInterrupt

    before: dict[int, Any] = {}
    if threading.current_thread() is threading.main_thread():
        usual = {"SIGINT": signal.default_int_handler, "SIGTERM": signal.SIG_DFL}
        usual["SIGHUP"] = signal.SIG_DFL
        for name, handler in usual.items():
            number = getattr(signal, name, None)  # not every system has all of them
            if number is not None and signal.getsignal(number) is handler:
                before[number] = signal.signal(number, stop)
    try:
        yield stops
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _answer(arguments: Sequence[str] | None) -> int:
    """Run the command line and turn what goes wrong into a line and an exit code."""
    try:
        code = cli.main(
            args=list(arguments) if arguments is not None else None,
            prog_name="fieldsim",
            standalone_mode=False,
        )
        if sys.stdout is not None:
            sys.stdout.flush()
    except FieldsimError as error:
        from fieldsim.machine_file.collision_message import full_lines

        complain(*full_lines(error))
        return 2
    except click.ClickException as error:
        complain(error.format_message())
        return 2
    except (click.Abort, KeyboardInterrupt):
        complain("stopped")
        return 130
    except SystemExit:  # what the library makes of a broken pipe
        _abandon_output()
        return 0
    except OSError as error:
        # Standard output: all other files report under their names.
        _abandon_output()
        if isinstance(error, BrokenPipeError):
            return 0  # whoever read it has had enough
        complain(f"standard output cannot be written: {error.strerror or error}")
        return 2
    except MemoryError:
        complain("the machine has too little memory for this request")
        return 2
    return code if isinstance(code, int) else 0


def _abandon_output() -> None:
    """Send what is left of standard output nowhere, so that the end of the process is quiet."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def run() -> None:
    """Run the command line and end the process with its exit code."""
    spell_plainly()
    # Threads that wait for each other on a busy machine cost more than they give.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Pictures go to files: a notebook's backend, or a wrong one, need not be there.
    os.environ["MPLBACKEND"] = "agg"
    # Most of what a command makes lives to its end: looking for rings of it often is wasted.
    gc.set_threshold(_OBJECTS_BETWEEN_COLLECTIONS)
    sys.exit(main())
