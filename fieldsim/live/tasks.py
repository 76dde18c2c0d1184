"""What a process of the page does: answers, and the files that a visitor takes away."""

from __future__ import annotations

import io
import json
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from fieldsim.errors import ImpossibleError
from fieldsim.live.answer import Desk
from fieldsim.live.draft import Draft, Part

__all__ = ["FILES", "Tasks"]

FILES = {
    "machine.yaml": "text/yaml; charset=utf-8",
    "report.zip": "application/zip",
    "machine.png": "image/png",
    "machine.svg": "image/svg+xml",
    "light.png": "image/png",
    "emf.csv": "text/csv; charset=utf-8",
    "light.csv": "text/csv; charset=utf-8",
    "effort.csv": "text/csv; charset=utf-8",
    "shopping-list.csv": "text/csv; charset=utf-8",
    "figures.json": "application/json",
}
"""What can be taken away, with its type."""


class Tasks:
    """The work of one process."""

    def __init__(self) -> None:
        self._desk = Desk()

    def answer(self, visitor: str, draft: Draft, part: Part) -> bytes:
        """Return a part of the answer to a draft, as JSON."""
        found = self._desk.answer(visitor, draft, part)
        return json.dumps(found, allow_nan=False, separators=(",", ":")).encode()

    def file(self, draft: Draft, name: str) -> bytes:
        """Return a file of the machine.

        Raises
        ------
        FieldsimError
            If the machine has no such file, for instance no lamps.
        """
        with tempfile.TemporaryDirectory(prefix="fieldsim-") as folder:
            return _made(draft, name, Path(folder))


def _made(draft: Draft, name: str, folder: Path) -> bytes:
    from fieldsim.machine_file.writer import machine_text, write
    from fieldsim.operation.operating_point import OperatingPoint

    machine = draft.machine()
    place = folder / name
    if name == "machine.yaml":
        return machine_text(machine).encode("utf-8")
    if name.startswith("machine."):
        from fieldsim.charts.figure_style import save_figure
        from fieldsim.drawing.machine_drawing import draw_machine

        save_figure(draw_machine(machine), place)
        return place.read_bytes()
    if name == "report.zip":
        source = folder / "machine.yaml"
        write(machine, source)
        return _report(source, draft.crank_rad_per_s, folder / "report")
    point = OperatingPoint(machine, crank_speed_rad_per_s=draft.crank_rad_per_s)
    return _of_point(point, name, place)


def _of_point(point: Any, name: str, place: Path) -> bytes:

    from fieldsim.charts.circuit_plots import save_circuit_plot
    from fieldsim.tables.dataset import save_dataset
    from fieldsim.tables.json_documents import effort_json, emf_json, light_json
    from fieldsim.tables.result_datasets import circuit_dataset, effort_dataset, emf_dataset

    machine = point.machine
    if name == "shopping-list.csv":
        from fieldsim.words.shopping_list import shopping_list_csv

        return shopping_list_csv(point).encode("utf-8")
    if name == "emf.csv":
        save_dataset(emf_dataset(point.waveform), place)
    elif name == "light.csv":
        save_dataset(circuit_dataset(point.light.result, machine.title), place)
    elif name == "effort.csv":
        save_dataset(effort_dataset(point.effort), place)
    elif name == "light.png":
        save_circuit_plot(point.light.result, machine.title, point.speed, place)
    elif name == "figures.json":
        found = {"emf": emf_json(point), "light": light_json(point.light),
                 "effort": effort_json(machine, point.effort)}  # fmt: skip
        return json.dumps(found, allow_nan=False).encode("utf-8")
    else:
        raise ImpossibleError(f'there is no file "{name[:40]}"; there are: {", ".join(FILES)}')
    return place.read_bytes()


def _report(source: Path, crank_rad_per_s: float, folder: Path) -> bytes:
    """Return the report of a file as one archive."""
    from fieldsim.report.report import make_report, save_report

    save_report(make_report([str(source)], crank_rad_per_s), folder)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                archive.write(file, f"report/{file.relative_to(folder).as_posix()}")
        archive.write(source, "report/machine.yaml")
    return packed.getvalue()
