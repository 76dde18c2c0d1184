"""The ``wind`` command: what the wire comes to, and what each gauge would give."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fieldsim.commands.options import (
    Described,
    Results,
    Tolerance,
    deliver,
    machine_argument,
    progress_bar,
    result_options,
    speed_options,
    tolerance_option,
)
from fieldsim.errors import ImpossibleError

if TYPE_CHECKING:
    from fieldsim.machine.gauge import Gauge
    from fieldsim.machine.machine import Machine


def chosen_gauges(text: str, machine: Machine) -> list[Gauge]:
    """Return the wire sizes that ``--gauges`` lists, numbers alone in the file's own series."""
    from fieldsim.machine.gauge import gauges_of
    from fieldsim.studies.gauges import gauge_in_use

    try:
        return gauges_of(text, gauge_in_use(machine))
    except ImpossibleError as error:
        raise click.BadParameter(str(error), param_hint="--gauges") from None


@click.command()
@machine_argument
@click.option(
    "--gauges",
    metavar="WIRES",
    help='Also what each wire gives at the speed, like 24..40, "28, 30" or "0.1 mm..0.4 mm"; '
    "numbers alone count in the file's own gauges, in a file in mm they stand for metric wires.",
)
@speed_options
@tolerance_option(1e-5)
@result_options
def wind(
    described: Described,
    gauges: str | None,
    crank_speed: float | None,
    rotor_speed: float | None,
    tolerance: Tolerance,
    results: Results,
) -> None:
    """Show turns, wire length, mass and resistance of each coil, and what each gauge would give."""
    from fieldsim.charts.circuit_plots import save_gauge_plot
    from fieldsim.studies.gauges import gauge_study
    from fieldsim.studies.wind import wound_coils
    from fieldsim.tables.json_documents import wound_json
    from fieldsim.tables.result_datasets import gauge_dataset, wound_dataset
    from fieldsim.words.wind_text import gauge_text, wound_text

    if results.plot is not None and gauges is None:
        raise click.UsageError("--plot draws what each gauge gives; give --gauges as well")
    point = described.point(crank_speed, rotor_speed, tolerance)
    chosen = None if gauges is None else chosen_gauges(gauges, point.machine)
    machine, coils = point.machine, wound_coils(point.machine)
    temperature, spools = machine.idle_wire_K, machine.spool_uses
    if chosen is None:
        deliver(
            results,
            table=lambda: wound_dataset(coils, machine.title),
            as_json=lambda: wound_json(coils, machine.title, temperature, spools=spools),
            text=lambda width: wound_text(coils, machine.title, temperature, width, spools),
        )
        return
    with progress_bar("gauges") as progress:
        study = gauge_study(point, chosen, progress)
    deliver(
        results,
        table=lambda: gauge_dataset(study, machine.title),
        picture=lambda path: save_gauge_plot(study, machine.title, point.speed, path),
        as_json=lambda: wound_json(coils, machine.title, temperature, study, spools),
        text=lambda width: (
            f"{wound_text(coils, machine.title, temperature, width, spools)}\n\n"
            f"{gauge_text(study, point.speed, width)}"
        ),
    )
