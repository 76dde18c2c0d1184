"""The ``wind`` command: what the wire comes to, and what each gauge would give."""

from __future__ import annotations

import re

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

_MOST_GAUGES = 40
_RANGE = re.compile(r"(?:AWG\s*)?(\d{1,3})\s*\.\.\s*(\d{1,3})", re.IGNORECASE)
_DASHED = re.compile(r"(?:AWG\s*)?(\d{1,3})\s*(?:-|–|to|\.{3,}|:)\s*(\d{1,3})", re.IGNORECASE)


def gauges_of(text: str) -> list[int]:
    """Return the gauges of ``24..40`` or ``28, 30, 32``."""
    from fieldsim.wire.round_wire import parse_awg

    found: list[int] = []
    for part in (piece.strip() for piece in text.split(",")):
        span = _RANGE.fullmatch(part)
        try:
            if span is None:
                found.append(parse_awg(part))
                continue
        except ValueError:
            dash = _DASHED.fullmatch(part)
            like = f"{dash[1]}..{dash[2]}" if dash is not None else 'gauges like 24..40 or "28, 30"'
            raise click.BadParameter(
                f'"{part[:40]}" is not a gauge; write {like}',
                param_hint="--gauges",
            ) from None
        first, last = int(span[1]), int(span[2])
        if first > last:
            raise click.BadParameter(
                f"{first}..{last} runs backwards; write {last}..{first}", param_hint="--gauges"
            )
        found += range(first, last + 1)
    if len(set(found)) > _MOST_GAUGES:
        raise click.BadParameter(
            f"{len(set(found))} gauges; at most {_MOST_GAUGES} are allowed", param_hint="--gauges"
        )
    return list(dict.fromkeys(found))


@click.command()
@machine_argument
@click.option(
    "--gauges",
    metavar="AWG",
    help='Also what each gauge gives at the speed, like 24..40 or "28, 30, 32".',
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

    chosen = gauges_of(gauges) if gauges is not None else None
    if results.plot is not None and chosen is None:
        raise click.UsageError("--plot draws what each gauge gives; give --gauges as well")
    point = described.point(crank_speed, rotor_speed, tolerance)
    machine, coils = point.machine, wound_coils(point.machine)
    if chosen is None:
        deliver(
            results,
            table=lambda: wound_dataset(coils, machine.title),
            as_json=lambda: wound_json(coils, machine.title, machine.idle_wire_K),
            text=lambda width: wound_text(coils, machine.title, machine.idle_wire_K, width),
        )
        return
    with progress_bar("gauges") as progress:
        study = gauge_study(point, chosen, progress)
    deliver(
        results,
        table=lambda: gauge_dataset(study, machine.title),
        picture=lambda path: save_gauge_plot(study, machine.title, path),
        as_json=lambda: wound_json(coils, machine.title, machine.idle_wire_K, study),
        text=lambda width: (
            f"{wound_text(coils, machine.title, machine.idle_wire_K, width)}\n\n"
            f"{gauge_text(study, point.speed, width)}"
        ),
    )
