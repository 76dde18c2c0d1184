"""The ``check`` command: validate a geometry and say what was understood."""

from __future__ import annotations

import click

from fieldsim.commands.options import Described, Results, deliver, json_option, machine_argument


@click.command()
@machine_argument
@json_option
def check(described: Described, as_json: bool) -> None:
    """Check GEOMETRY and print what it says: parts, clearances, wire length."""
    from fieldsim.machine.clearance.clearances import check_collisions
    from fieldsim.tables.json_documents import check_json
    from fieldsim.words.check_text import check_text

    machine = described.machine()
    clearances = check_collisions(machine)
    deliver(
        Results(as_json, None, None),
        as_json=lambda: check_json(machine, clearances),
        text=lambda width: check_text(machine, clearances, width),
    )
