"""The ``draw`` command: the machine as a picture."""

from __future__ import annotations

import click

from fieldsim.commands.options import GEOMETRY, checked_outputs


@click.command()
@click.argument("geometry", type=GEOMETRY)
@click.option(
    "--out",
    metavar="FILE",
    required=True,
    help="Picture to write (.png, .svg or .pdf); an existing file is replaced.",
)
@click.option("--crank-angle", metavar="ANGLE", default="0 deg", help="Where the crank stands.")
def draw(geometry: str, out: str, crank_angle: str) -> None:
    """Draw GEOMETRY from two sides and in space, even where parts collide."""
    from fieldsim.geometry.clearance import check_collisions
    from fieldsim.geometry.reader import read_geometry
    from fieldsim.geometry.units import parse_quantity

    checked_outputs(None, out)
    machine = read_geometry(geometry, check_clearances=False)
    try:
        angle = parse_quantity(crank_angle, "angle")
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--crank-angle") from None
    from fieldsim.output.figure_style import save_figure
    from fieldsim.output.machine_drawing import draw_machine

    save_figure(draw_machine(machine, crank_angle_rad=angle), out)
    check_collisions(machine)
