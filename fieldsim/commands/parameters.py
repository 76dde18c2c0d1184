"""The ``parameters`` command: everything that can be changed about a machine."""

from __future__ import annotations

import click

from fieldsim.commands.options import Described, Results, deliver, json_option, machine_argument


@click.command()
@machine_argument
@click.option(
    "--under", metavar="PATH", help="Only those below a path, like coils.pickup.  [default: all]"
)
@json_option
def parameters(described: Described, under: str | None, as_json: bool) -> None:
    """List what can be changed about GEOMETRY: path, value, range, step and meaning."""
    from fieldsim.machine.parameters import parameters as parameters_of
    from fieldsim.tables.json_documents import parameters_json
    from fieldsim.words.parameter_text import parameters_text

    machine = described.machine()
    found = [p for p in parameters_of(machine) if p.path.startswith(under or "")]
    if not found:
        raise click.BadParameter(
            f'nothing stands below "{(under or "")[:60]}"', param_hint="--under"
        )
    deliver(
        Results(as_json, None, None),
        as_json=lambda: parameters_json(machine, found),
        text=lambda width: parameters_text(machine, found, width),
    )
