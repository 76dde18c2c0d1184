"""One style for all figures, and saving them whole or not at all.

The colours are told apart with each common kind of colour blindness and differ in lightness; line
styles and markers change with the colour, so that a black-and-white print still reads. The style
lives in matplotlib's settings only while a figure is being made; nothing global stays changed.
"""

from __future__ import annotations

import contextlib
import io
import math
import os
import re
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldsim.files import ending_of, written_whole

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.legend import Legend
    from matplotlib.text import Text

__all__ = [
    "BAR_HATCHES",
    "COLOURS",
    "LINE_COLOURS",
    "LINE_STYLES",
    "MARKERS",
    "add_legend",
    "figure_style",
    "figure_svg",
    "new_figure",
    "new_panels",
    "plain_text",
    "save_figure",
    "style_axes",
]

MM_PER_INCH = 25.4

COLOURS = {
    "ink": "#1d2733",
    "soft ink": "#566270",
    "grid": "#d9dee4",
    "paper": "#ffffff",
    "north": "#b3362b",
    "south": "#9fcdf0",
    "winding": "#e7c07a",
    "winding cut": "#d99a36",
    "iron": "#98a1ab",
    "iron cut": "#7b8590",
    "shaft": "#66707c",
    "turning": "#12715f",
    "coil name": "#7a4c00",
    "dark on parts": "#16202b",
    "bright on parts": "#fefefe",
}
"""Colours by what they stand for. North is dark and south is light, also in grey.

What stands on parts, or on a field's colours, stays as it is on a dark page, as those do.
"""

LINE_COLOURS = ("#15396e", "#dd6b1f", "#3aa394", "#8e3b5e", "#d9b22f", "#2b2b2b")
LINE_STYLES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (1.5, 1.5)), (0, (7, 2, 1.5, 2)), "-", "--")
MARKERS = ("o", "s", "^", "D", "v", "P")
BAR_HATCHES = ("", "////", "....", "xxxx", "\\\\\\\\", "oo")

_SETTINGS: dict[str, Any] = {
    "axes.axisbelow": True,
    "axes.edgecolor": COLOURS["soft ink"],
    "axes.formatter.use_mathtext": False,
    "axes.labelcolor": COLOURS["ink"],
    "axes.labelsize": 9.0,
    "axes.linewidth": 0.8,
    "axes.titlesize": 10.0,
    "axes.titleweight": "bold",
    "axes.unicode_minus": True,
    "figure.dpi": 100.0,
    "figure.facecolor": COLOURS["paper"],
    "font.family": ["DejaVu Sans"],  # shipped with matplotlib: the same letters on every machine
    "font.size": 9.0,
    "hatch.linewidth": 0.6,
    "legend.fontsize": 8.5,
    "lines.linewidth": 1.8,
    "mathtext.fontset": "dejavusans",
    "path.simplify": True,
    "pdf.compression": 6,
    "pdf.fonttype": 42,
    "savefig.bbox": None,
    "svg.fonttype": "path",
    "svg.hashsalt": "fieldsim",  # without it the names inside an SVG change at every run
    "text.color": COLOURS["ink"],
    "text.usetex": False,
    "xtick.color": COLOURS["soft ink"],
    "xtick.labelcolor": COLOURS["ink"],
    "xtick.labelsize": 8.5,
    "ytick.color": COLOURS["soft ink"],
    "ytick.labelcolor": COLOURS["ink"],
    "ytick.labelsize": 8.5,
}

_FORMATS: dict[str, dict[str, Any]] = {
    ".png": {"metadata": {"Software": "fieldsim"}, "dpi": 160},
    ".svg": {"metadata": {"Creator": "fieldsim", "Date": None}},
    ".pdf": {"metadata": {"Creator": "fieldsim", "Producer": "fieldsim", "CreationDate": None}},
}


@contextlib.contextmanager
def figure_style() -> Iterator[None]:
    """Use fieldsim's style and nothing of the user's inside a ``with`` block, then theirs again.

    Examples
    --------
    >>> import matplotlib
    >>> before = matplotlib.rcParams["svg.hashsalt"]
    >>> with figure_style():
    ...     print(matplotlib.rcParams["svg.hashsalt"])
    fieldsim
    >>> matplotlib.rcParams["svg.hashsalt"] == before
    True
    """
    import matplotlib

    # Matplotlib's defaults under ours, so that nothing of a user's own settings shows; as plain
    # dictionaries, since every value has been checked. The backend opens windows, which we do not.
    settings: Any = dict(dict.items(matplotlib.rcParamsDefault)) | _SETTINGS
    del settings["backend"]
    if settings.items() <= dict.items(matplotlib.rcParams):
        yield  # inside another block already: entering once more would only cost time
        return
    with matplotlib.rc_context(), warnings.catch_warnings():
        dict.update(matplotlib.rcParams, settings)
        # A title may hold letters that the font lacks; they print as boxes, which is enough.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        warnings.filterwarnings("ignore", message="Matplotlib currently does not support")
        yield


def new_figure(width_mm: float = 170.0, height_mm: float = 100.0) -> Figure:
    """Return an empty figure of that size [mm], for paper and screen, needing no display.

    Examples
    --------
    >>> figure = new_figure(127.0, 76.2)
    >>> figure.get_size_inches().round(6).tolist()
    [5.0, 3.0]
    """
    from matplotlib.figure import Figure

    with figure_style():
        return Figure(
            figsize=(width_mm / MM_PER_INCH, height_mm / MM_PER_INCH), layout="constrained"
        )


def new_panels(
    count: int = 1,
    width_mm: float = 170.0,
    height_mm: float = 100.0,
    *,
    shared_x: bool = True,
    heights: Sequence[float] | None = None,
) -> tuple[Figure, tuple[Axes, ...]]:
    """Return a figure of that size [mm] and its axes, one above the other.

    Parameters
    ----------
    count
        Of the axes.
    width_mm, height_mm
        Of the figure.
    shared_x
        Whether all have one scale along x, with numbers below the last only.
    heights
        How the axes share the height, (count,); by default evenly.

    Examples
    --------
    >>> figure, (above, below) = new_panels(2)
    >>> above.get_subplotspec().rowspan.start, below.get_subplotspec().rowspan.start
    (0, 1)
    """
    with figure_style():
        figure = new_figure(width_mm, height_mm)
        panels = figure.subplots(count, 1, sharex=shared_x, squeeze=False, height_ratios=heights)
    return figure, tuple(panels[:, 0])


def style_axes(axes: Axes, x_label: str, y_label: str, title: str = "") -> Axes:
    """Give axes the house look, labels and a title, whatever settings they were made under."""
    for name, spine in axes.spines.items():
        spine.set_visible(name in ("left", "bottom"))
        spine.set_color(COLOURS["soft ink"])
        spine.set_linewidth(0.8)
    axes.set_facecolor(COLOURS["paper"])
    axes.set_axisbelow(True)
    axes.grid(visible=True, color=COLOURS["grid"], linewidth=0.6)
    axes.tick_params(
        colors=COLOURS["soft ink"], labelcolor=COLOURS["ink"], labelsize=8.5, width=0.8, length=3
    )
    words: dict[str, Any] = {"color": COLOURS["ink"], "family": "DejaVu Sans", "parse_math": False}
    axes.set_xlabel(x_label, fontsize=9.0, **words)
    axes.set_ylabel(y_label, fontsize=9.0, **words)
    if title:
        lines = "\n".join(plain_text(line, 90) for line in title.split("\n"))
        axes.set_title(lines, fontsize=10.0, fontweight="bold", loc="left", **words)
    return axes


def plain_text(text: str, limit: int = 60) -> str:
    r"""Return ``text`` on one line, without control characters, no longer than ``limit``.

    Examples
    --------
    >>> plain_text("a\n  long name", 7)
    'a long…'
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= limit else line[: limit - 1].rstrip() + "…"


def add_legend(
    target: Axes | Figure, handles: Sequence[Artist], names: Sequence[str], **placing: Any
) -> Legend:
    """Add a legend whose names are shown letter by letter, whatever characters they hold."""
    # Names are set afterwards: matplotlib drops those that begin with "_" and would read "$" as
    # the start of a formula.
    legend = target.legend(
        handles=list(handles),
        labels=["name"] * len(handles),
        **{"fontsize": 8.5, "frameon": False, "labelcolor": COLOURS["ink"], **placing},
    )
    text: Text
    for text, name in zip(legend.get_texts(), names, strict=True):
        text.set_parse_math(False)
        text.set_text(plain_text(name))
    return legend


def figure_svg(figure: Figure, id_prefix: str = "") -> str:
    """Return the figure as an SVG element to put inside a page, the same bytes for the same figure.

    Parameters
    ----------
    figure
        Any figure.
    id_prefix
        Put before every identifier, so that several figures can share one page.
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    with figure_style():
        stream = io.BytesIO()
        # Straight to the writer: saving by name would draw the whole figure once more before.
        writer: Any = FigureCanvasSVG(figure)
        writer.print_svg(stream, metadata=_FORMATS[".svg"]["metadata"])
    svg = stream.getvalue().decode("utf-8")
    svg = svg[svg.index("<svg") :]
    if id_prefix:
        svg = re.sub(r'\bid="', f'id="{id_prefix}', svg)
        svg = re.sub(r'(xlink:href|href)="#', rf'\1="#{id_prefix}', svg)
        svg = svg.replace("url(#", f"url(#{id_prefix}")
    return svg


def save_figure(figure: Figure, path: str | os.PathLike[str]) -> Path:
    """Write a figure as PNG, SVG or PDF, by the ending; an existing file is replaced.

    The file appears whole or not at all: it is written beside its place under a passing name and
    then moved there. The same figure gives the same bytes.

    Parameters
    ----------
    figure
        Any figure.
    path
        Where to, ending in ``.png``, ``.svg`` or ``.pdf``.

    Returns
    -------
    Path
        The path as given.

    Raises
    ------
    FileTroubleError
        If the ending is another one, the folder is missing or the place cannot be written.
    """
    ending = ending_of(path, tuple(_FORMATS), "picture")
    # In memory first: the library loses why a write failed when it then closes a PDF.
    image = io.BytesIO()
    with written_whole(path) as passing:
        with figure_style():
            figure.savefig(image, format=ending[1:], **_FORMATS[ending])
        passing.write_bytes(image.getbuffer())
    return Path(path)


def nice_step(span: float, count: int) -> float:
    """Return 1, 2 or 5 times a power of ten that parts ``span`` into about ``count`` steps.

    Examples
    --------
    >>> nice_step(87.0, 5)
    20.0
    """
    raw = span / count
    power = 10.0 ** math.floor(math.log10(raw))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= raw * 0.999)
