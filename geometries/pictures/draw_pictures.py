"""Draw the README's pictures: ``python geometries/pictures/draw_pictures.py``, from the clone."""

from __future__ import annotations

from math import tau
from pathlib import Path

from fieldsim.charts.figure_style import new_figure, save_figure
from fieldsim.charts.waveform_curves import draw_emf
from fieldsim.drawing.machine_drawing import draw_machine
from fieldsim.machine_file.reader import read_geometry
from fieldsim.waveform import crank_speed, emf_waveform, flux_table

__all__ = ["make_pictures"]


def make_pictures(geometries: Path, folder: Path) -> list[Path]:
    """Write the pictures into a folder and return their paths.

    Parameters
    ----------
    geometries
        Folder of the shipped geometries.
    folder
        Where to; made if missing.
    """
    folder.mkdir(exist_ok=True)
    machine = read_geometry(geometries / "two_facing_rotors.yaml")
    drawn = save_figure(draw_machine(machine), folder / "machine.png")
    three = read_geometry(geometries / "three_rotors.yaml")
    waveform = emf_waveform(flux_table(three), three, crank_speed(three, 1.5 * tau))
    figure = new_figure(150.0, 75.0)
    curves = {coil: waveform.emf_V[i] for i, coil in enumerate(waveform.coils)}
    draw_emf(figure.add_subplot(), waveform.time_s, curves, three.title)
    return [drawn, save_figure(figure, folder / "emf.png")]


if __name__ == "__main__":
    here = Path(__file__).parent
    make_pictures(here.parent, here)
