"""The ``draw`` command: the machine as a picture."""

from __future__ import annotations

import click

from fieldsim.commands.messages import complain
from fieldsim.commands.options import (
    Described,
    checked_outputs,
    json_option,
    machine_argument,
    print_json,
    progress_bar,
)


@click.command()
@machine_argument
@click.option(
    "--out",
    metavar="FILE",
    required=True,
    help="Picture to write (.png, .svg or .pdf); an existing file is replaced.",
)
@click.option(
    "--crank-angle",
    metavar="ANGLE",
    default="0 deg",
    show_default=True,
    help='Where the crank stands, like "15 deg".',
)
@json_option
@click.pass_context
def draw(
    context: click.Context, described: Described, out: str, crank_angle: str, as_json: bool
) -> None:
    """Draw GEOMETRY from two sides and in space.

    Parts that collide are drawn, too; the collision is told and the exit code is 2.
    """
    from fieldsim.machine.clearance.clearances import check_collisions
    from fieldsim.machine.clearance.collision_error import CollisionError
    from fieldsim.machine.units import parse_quantity
    from fieldsim.machine_file.collision_message import full_lines

    checked_outputs(None, out)
    machine = described.machine()
    try:
        angle = parse_quantity(crank_angle, "angle")
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--crank-angle") from None
    from fieldsim.charts.figure_style import save_figure
    from fieldsim.drawing.machine_drawing import draw_machine

    with progress_bar("picture"):
        save_figure(draw_machine(machine, crank_angle_rad=angle), out)
    collision: tuple[str, ...] = ()
    try:
        check_collisions(machine)
    except CollisionError as error:
        collision = full_lines(error)
    if as_json:
        print_json(
            {
                "title": machine.title,
                "file": described.file,
                "picture": out,
                "crank_angle_rad": angle,
                "collision": "\n".join(collision) or None,
            }
        )
    if collision:
        complain(*collision)
        complain(f"the picture was drawn all the same: {out}")
        context.exit(2)
