"""Options and small steps that several commands share."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar, cast

import click

from fieldsim.commands.messages import print_text, screen_width

if TYPE_CHECKING:
    from fieldsim.machine.machine import Machine
    from fieldsim.operation.operating_point import OperatingPoint
    from fieldsim.studies.ranges import RangeStudy
    from fieldsim.tables.dataset import Dataset

__all__ = [
    "DEFAULT_CRANK",
    "Described",
    "QuantityType",
    "Results",
    "checked_outputs",
    "crank_speed_option",
    "deliver",
    "json_option",
    "machine_argument",
    "machines_argument",
    "print_json",
    "progress_bar",
    "range_options",
    "ranges_wanted",
    "result_options",
    "say_if_rough",
    "speed_options",
    "tolerance_option",
]

F = TypeVar("F", bound=Callable[..., Any])

GEOMETRY = click.STRING  # the reader says what is wrong with a name or file
DEFAULT_CRANK = "120 rpm"


class QuantityType(click.ParamType[float]):
    """A quantity with its unit, as on the command line."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.name = kind

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the value in SI units."""
        from fieldsim.machine.units import parse_quantity

        if isinstance(value, float):
            return value
        try:
            return parse_quantity(value, self.kind)
        except ValueError as error:
            self.fail(str(error), param, ctx)


class SpeedType(QuantityType):
    """A speed of rotation, forward or backward."""

    def __init__(self) -> None:
        super().__init__("rotation speed")

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Return the speed [rad/s]."""
        speed = super().convert(value, param, ctx)
        if speed == 0.0:
            self.fail(f'"{value}" stands still; the speed must not be zero', param, ctx)
        return speed


SPEED = SpeedType()


def json_option(function: F) -> F:
    """Add ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object, SI units.")(
        function
    )


@dataclass(frozen=True)
class Results:
    """What is to become of a command's results.

    Parameters
    ----------
    as_json
        Whether one JSON object is printed instead of text.
    out, plot
        Files for the table and the picture, or None.
    range_plot
        File for the picture of ranges, or None.
    exact
        Whether ranges are left out.
    """

    as_json: bool
    out: str | None
    plot: str | None
    range_plot: str | None = None
    exact: bool = False


def result_options(function: F) -> F:
    """Add ``--json``, ``--out`` and ``--plot``, checked, as one argument ``results``."""

    @json_option
    @click.option(
        "--out",
        metavar="FILE",
        help="Write the table to FILE (.csv or .h5); an existing file is replaced.",
    )
    @click.option(
        "--plot",
        metavar="FILE",
        help="Write a picture to FILE (.png, .svg or .pdf); an existing file is replaced.",
    )
    @wraps(function)
    def command(
        *given: Any,
        as_json: bool,
        out: str | None,
        plot: str | None,
        range_plot: str | None = None,
        exact: bool = False,
        **more: Any,
    ) -> Any:
        checked_outputs(out, plot, range_plot)
        if exact and range_plot is not None:
            raise click.UsageError("--exact leaves out what --range-plot draws; give one of them")
        results = Results(as_json, out, plot, range_plot, exact)
        return function(*given, results=results, **more)

    return cast("F", command)


@dataclass(frozen=True)
class Tolerance:
    """What error of the flux linkage is asked for.

    Parameters
    ----------
    stated
        By the user, or None.
    usual
        Of the command, for a machine without iron.
    """

    stated: float | None
    usual: float

    def of(self, machine: Machine) -> float:
        """Return it for a machine."""
        from fieldsim.waveform.flux_table import tolerance_for

        return tolerance_for(machine, self.usual) if self.stated is None else self.stated


def tolerance_option(default: float) -> Callable[[F], F]:
    """Add ``--tolerance``."""
    return click.option(
        "--tolerance",
        type=float,
        callback=lambda _context, _option, stated: Tolerance(stated, default),
        show_default=f"{default:g}; 0.0001 with iron",
        help="Largest error of the flux linkage, relative to its peak-to-peak.",
    )


def range_options(function: F) -> F:
    """Add ``--exact`` and ``--range-plot`` to those of `result_options`, above which it stands."""
    function = click.option(
        "--range-plot",
        metavar="FILE",
        help="Write a picture of the range of machines built like this to FILE (.png, .svg or "
        ".pdf); an existing file is replaced.",
    )(function)
    return click.option(
        "--exact",
        is_flag=True,
        help="Give the plain figures alone, without the range of machines built like this.",
    )(function)


def ranges_wanted(
    results: Results, point: OperatingPoint, with_load: bool = True
) -> RangeStudy | None:
    """Return the range of machines built like one, or None where it is not wanted.

    Machines with much iron or very many parts take too long for it to be given unasked.
    """
    if results.exact:
        return None
    from fieldsim.studies.ranges import ranges, takes_long

    if results.range_plot is None and takes_long(point.machine):
        return None
    with progress_bar("machines built like this") as progress:
        return ranges(point, with_load=with_load, progress=progress)


def crank_speed_option(function: F) -> F:
    """Add ``--crank-speed``."""
    return click.option(
        "--crank-speed",
        type=SPEED,
        metavar="SPEED",
        help=f'Speed of the crank, like "90 rpm" or "1.5 turn/s".  [default: {DEFAULT_CRANK}]',
    )(function)


def speed_options(function: F) -> F:
    """Add ``--crank-speed`` and ``--rotor-speed``."""
    function = click.option(
        "--rotor-speed",
        type=SPEED,
        metavar="SPEED",
        help="Give every rotor this speed, with the sign of its gear ratio.",
    )(function)
    return crank_speed_option(function)


def machine_argument(function: F) -> F:
    """Add the argument ``geometry`` and ``--set``, as one argument ``described``."""

    @click.argument("geometry", type=GEOMETRY)
    @_set_option
    @wraps(function)
    def command(*given: Any, geometry: str, settings: tuple[str, ...], **more: Any) -> Any:
        return function(*given, described=Described(geometry, settings), **more)

    return cast("F", command)


def machines_argument(function: F) -> F:
    """Add the argument ``geometries`` and ``--set``, as one argument ``described``."""

    @click.argument("geometries", type=GEOMETRY, nargs=-1, required=True)
    @_set_option
    @wraps(function)
    def command(
        *given: Any, geometries: tuple[str, ...], settings: tuple[str, ...], **more: Any
    ) -> Any:
        files = tuple(Described(path, settings) for path in geometries)
        return function(*given, described=files, **more)

    return cast("F", command)


def _set_option(function: F) -> F:
    return click.option(
        "--set",
        "settings",
        multiple=True,
        metavar="PATH=VALUE",
        help='Change the machine first, like coils.pickup.turns=900 or "clearance=3 mm"; '
        "may be given several times. `parameters` lists the paths.",
    )(function)


@dataclass(frozen=True)
class Described:
    """A machine as the command line gives it.

    Parameters
    ----------
    file
        The geometry file.
    settings
        Changes, each ``PATH=VALUE``.
    """

    file: str
    settings: tuple[str, ...] = ()

    def changes(self) -> dict[str, Any]:
        """Return the changes by path; values in brackets as a file would have them."""
        from fieldsim.machine_file.yaml_nodes import plain_value

        found: dict[str, Any] = {}
        for setting in self.settings:
            path, equals, value = setting.partition("=")
            if not equals or not path.strip() or not value.strip():
                raise click.BadParameter(
                    f'"{setting[:60]}" is not PATH=VALUE, like coils.pickup.turns=900',
                    param_hint="--set",
                )
            path, value = path.strip(), value.strip()
            found[path] = plain_value(value, f"--set {path}") if value[0] in "[{" else value
        return found

    def machine(self) -> Machine:
        """Return the machine, changed; parts may collide."""
        from fieldsim.machine_file.reader import read

        changes = self.changes()
        machine = read(self.file)
        return machine.changed(changes) if changes else machine

    def point(
        self, crank: float | None, rotor: float | None, tolerance: Tolerance, **more: Any
    ) -> OperatingPoint:
        """Return the machine at the speed that the options ask for."""
        from fieldsim.operation.operating_point import OperatingPoint

        if crank is not None and rotor is not None:
            raise click.UsageError("give --crank-speed or --rotor-speed, not both")
        machine = self.machine()
        return OperatingPoint(
            machine,
            crank_speed_rad_per_s=crank,
            rotor_speed_rad_per_s=rotor,
            tolerance=tolerance.of(machine),
            **more,
        )


def deliver(
    results: Results,
    *,
    table: Callable[[], Dataset] | None = None,
    picture: Callable[[str], None] | None = None,
    range_picture: Callable[[str], None] | None = None,
    as_json: Callable[[], object],
    text: Callable[[int], str],
) -> None:
    """End a command: write the table and the pictures that are asked for, and print the result.

    The text is made for the columns that the terminal has.
    """
    with progress_bar("results"):
        if results.out is not None and table is not None:
            from fieldsim.tables.dataset import save_dataset

            save_dataset(table(), results.out)
        if results.plot is not None and picture is not None:
            picture(results.plot)
        if results.range_plot is not None and range_picture is not None:
            range_picture(results.range_plot)
        printed = _one_line(as_json()) if results.as_json else text(screen_width())
    print_text(printed)


def print_json(value: object) -> None:
    """Print one JSON object to standard output."""
    print_text(_one_line(value))


def _one_line(value: object) -> str:
    import json

    return json.dumps(value, allow_nan=False)


def checked_outputs(out: str | None, *plots: str | None) -> None:
    """Refuse a file that cannot be written before the work, and before another is written."""
    from fieldsim.files import ending_of, place_for
    from fieldsim.tables.dataset import TABLE_ENDINGS

    if out is not None:
        ending_of(out, TABLE_ENDINGS, "table")
        place_for(out)
    for plot in plots:
        if plot is not None:
            ending_of(plot, (".png", ".svg", ".pdf"), "picture")
            place_for(plot)


def say_if_rough(relative_error: float, tolerance: float) -> None:
    """Say on standard error that the error asked for was not reached, if it was not."""
    if relative_error > tolerance:
        sys.stderr.write(
            f"note: the tolerance of {tolerance:.1e} was not reached; the estimated error is "
            f"{relative_error:.1e}\n"
        )


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[int, int], None]]:
    """Yield a callback of (done, in all) that shows progress on a terminal, and nowhere else."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda _done, _in_all: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(what, total=None)

        def show(done: int, in_all: int) -> None:
            # What follows the last piece has no count: the bar moves without one.
            progress.update(task, completed=done, total=in_all if done < in_all else None)

        yield show
