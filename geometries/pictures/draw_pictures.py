"""Draw the README's pictures: ``python geometries/pictures/draw_pictures.py``, from the clone."""

from __future__ import annotations

from pathlib import Path

import fieldsim as fs
from fieldsim.charts.figure_style import new_figure, save_figure
from fieldsim.charts.search_curves import save_search_plot
from fieldsim.charts.waveform_curves import draw_emf

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
    machine = fs.read(geometries / "two_facing_rotors.yaml")
    drawn = save_figure(fs.draw_machine(machine), folder / "machine.png")
    three = fs.read(geometries / "three_rotors.yaml")
    waveform = fs.OperatingPoint(three, "90 rpm").waveform
    figure = new_figure(150.0, 75.0)
    curves = {coil: waveform.emf_V[i] for i, coil in enumerate(waveform.coils)}
    draw_emf(figure.add_subplot(), waveform.time_s, curves, three.title)
    return [drawn, save_figure(figure, folder / "emf.png")]


if __name__ == "__main__":
    here = Path(__file__).parent
    make_pictures(here.parent, here)
    wish = fs.read_wish(here.parent / "wishes" / "six_lamps.yaml")
    save_search_plot(fs.search(wish), here / "trade_off.png")
