"""The ``check`` command: validate a geometry and say what was understood."""

from __future__ import annotations

import click

from fieldsim.commands.options import GEOMETRY, json_option, print_json


@click.command()
@click.argument("geometry", type=GEOMETRY)
@json_option
def check(geometry: str, as_json: bool) -> None:
    """Check GEOMETRY and print what it says: parts, clearances, wire length."""
    from fieldsim.machine.clearance.clearances import check_collisions
    from fieldsim.machine_file.reader import read_geometry

    machine = read_geometry(geometry, check_clearances=False)
    clearances = check_collisions(machine)
    if as_json:
        from fieldsim.tables.json_documents import check_json

        print_json(check_json(machine, clearances))
        return
    from fieldsim.words.terminal import check_text, print_text

    print_text(check_text(machine, clearances))
