"""The ``new`` command: a file to begin with."""

from __future__ import annotations

import os

import click

from fieldsim.commands.messages import one_line
from fieldsim.commands.options import Results, deliver, json_option
from fieldsim.errors import FileTroubleError


@click.command()
@click.argument("kind", default="")
@click.option("--gears", is_flag=True, help="With gears, crank and friction.")
@click.option("--lamps", is_flag=True, help="With rectifier, capacitor and lamps.")
@click.option(
    "--out",
    metavar="FILE",
    help="Write it to FILE, which must not exist yet.  [default: print it]",
)
@click.option("--replace", is_flag=True, help="Replace FILE if it exists.")
@json_option
def new(kind: str, gears: bool, lamps: bool, out: str | None, replace: bool, as_json: bool) -> None:
    """Write a geometry file of a KIND to begin with; without KIND list them.

    Some kinds have comments that say what to measure and change; --gears and --lamps add to these.
    The others are the shipped machines and wishes. Each can be computed as it is.
    """
    from fieldsim.files import written_whole
    from fieldsim.machine_file.starting import starting_kinds, starting_text, starting_wishes
    from fieldsim.tables.json_documents import kinds_json
    from fieldsim.words.kind_text import kinds_text

    results = Results(as_json, None, None)
    if not kind:
        if gears or lamps or out is not None:
            raise click.UsageError(f"give a kind: {', '.join(starting_kinds())}")
        deliver(
            results,
            as_json=lambda: kinds_json(starting_kinds(), starting_wishes()),
            text=lambda width: kinds_text(starting_kinds(), starting_wishes(), width),
        )
        return
    text = starting_text(kind, gears=gears, lamps=lamps)
    shown = text.removesuffix("\n")
    if out is not None:
        if os.path.lexists(out) and not replace:
            raise FileTroubleError(f"{out}: exists already; choose another name, or add --replace")
        with written_whole(out) as place:
            place.write_text(text, encoding="utf-8")
        command = "search" if kind in starting_wishes() else "check"
        shown = f"The file is {one_line(out)}; change it, and try fieldsim {command} on it."
    deliver(
        results,
        as_json=lambda: {"kind": kind, "file": out, "text": text},
        text=lambda _width: shown,
    )
