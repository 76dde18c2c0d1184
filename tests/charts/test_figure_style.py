"""The style, its colours, and saving figures whole or not at all."""

import itertools
import os
import re
import subprocess
import sys

import matplotlib
import numpy as np
import pytest

from fieldsim.charts.figure_style import (
    COLOURS,
    LINE_COLOURS,
    LINE_STYLES,
    MARKERS,
    add_legend,
    figure_style,
    figure_svg,
    new_figure,
    plain_text,
    save_figure,
    style_axes,
)
from fieldsim.errors import FileTroubleError


def small_figure():
    figure = new_figure(80.0, 60.0)
    with figure_style():
        axes = style_axes(figure.add_subplot(), "angle (°)", "EMF (V)", "A curve")
        handles = axes.plot([0, 1, 2], [0, 1, 0])
        add_legend(axes, handles, ["_one $x"])
    return figure


# Simulation matrices for full loss of one kind of cone, in linear light (Machado, Oliveira and
# Fernandes 2009, doi:10.1109/TVCG.2009.113); values from memory, good enough to tell colours apart.
BLINDNESS = {
    "none": np.eye(3),
    "red": [[0.152, 1.053, -0.205], [0.115, 0.786, 0.099], [-0.004, -0.048, 1.052]],
    "green": [[0.367, 0.861, -0.228], [0.280, 0.673, 0.047], [-0.012, 0.043, 0.969]],
    "blue": [[1.256, -0.077, -0.179], [-0.078, 0.931, 0.148], [0.005, 0.691, 0.304]],
}


def linear(colour):
    rgb = np.array(matplotlib.colors.to_rgb(colour))
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def lab(light):
    to_xyz = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    xyz = np.array(to_xyz) @ np.clip(light, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("kind", BLINDNESS)
@pytest.mark.parametrize(
    "pair",
    [
        *itertools.combinations(LINE_COLOURS, 2),
        (COLOURS["north"], COLOURS["south"]),
        (COLOURS["north"], COLOURS["winding cut"]),
        (COLOURS["south"], COLOURS["winding cut"]),
    ],
)
def test_colours_differ_to_every_eye(kind, pair):
    one, two = (lab(np.array(BLINDNESS[kind]) @ linear(c)) for c in pair)
    # A difference of 2.3 is just noticeable side by side; 12 is plain on separate thin lines.
    assert np.linalg.norm(one - two) > 12


def test_poles_differ_in_grey():
    north, south = (lab(linear(COLOURS[c]))[0] for c in ("north", "south"))
    assert south - north > 35  # of 100 from black to white


def test_curves_differ_without_colour():
    looks = set(zip(map(str, LINE_STYLES), MARKERS, strict=True))
    assert len(looks) == len(LINE_COLOURS)
    assert len(set(MARKERS)) == len(MARKERS)


def test_style_leaves_settings_alone(tmp_path):
    before = dict(matplotlib.rcParams)
    save_figure(small_figure(), tmp_path / "a.png")
    assert dict(matplotlib.rcParams) == before


def test_settings_return_after_an_error():
    before = dict(matplotlib.rcParams)
    with pytest.raises(RuntimeError), figure_style():
        raise RuntimeError
    assert dict(matplotlib.rcParams) == before


def test_no_window_library_is_loaded():
    code = (
        "import sys; from fieldsim.charts.figure_style import new_figure, figure_svg;"
        "figure_svg(new_figure()); assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_style_module_loads_without_matplotlib():
    code = (
        "import sys; import fieldsim.charts.figure_style, fieldsim.drawing.machine_drawing,"
        "fieldsim.drawing.field_picture, fieldsim.charts.waveform_curves;"
        "bad = {'matplotlib', 'magpylib', 'scipy'} & set(sys.modules); assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize(
    ("ending", "start"),
    [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF"), (".SVG", b"<?")],
)
def test_each_format_is_written_and_repeats(tmp_path, ending, start):
    one = save_figure(small_figure(), tmp_path / f"one{ending}")
    two = save_figure(small_figure(), tmp_path / f"two{ending}")
    assert one.read_bytes().startswith(start)
    assert one.read_bytes() == two.read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == [f"one{ending}", f"two{ending}"]


def test_svg_carries_no_date(tmp_path):
    text = save_figure(small_figure(), tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "<dc:date>" not in text


def test_existing_picture_is_replaced(tmp_path):
    place = tmp_path / "a.png"
    place.write_text("old")
    save_figure(small_figure(), place)
    assert place.read_bytes().startswith(b"\x89PNG")


def test_link_is_followed(tmp_path):
    (tmp_path / "real.png").write_text("old")
    (tmp_path / "link.png").symlink_to(tmp_path / "real.png")
    save_figure(small_figure(), tmp_path / "link.png")
    assert (tmp_path / "link.png").is_symlink()
    assert (tmp_path / "real.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("a.gif", "'.gif'"),
        ("a", "nothing"),
        ("a.png.", "must end in .png, .svg or .pdf"),
        ("missing/a.png", "there is no folder"),
        ("folder.png", "this is a folder"),
        ("file.txt/a.png", "there is no folder"),
        ("null\0.png", "null"),
        ("long" * 100 + ".png", "too long"),
    ],
)
def test_trouble_is_one_line(tmp_path, name, words):
    (tmp_path / "folder.png").mkdir()
    (tmp_path / "file.txt").write_text("")
    with pytest.raises(FileTroubleError, match=re.escape(words)) as caught:
        save_figure(small_figure(), f"{tmp_path}/{name}")
    assert "\n" not in str(caught.value)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file.txt", "folder.png"]


def test_folder_that_takes_no_files():
    with pytest.raises(FileTroubleError, match="cannot be written|write-protected"):
        save_figure(small_figure(), "/proc/a.png")  # refused to every user


def test_write_protected_picture_stays(tmp_path, monkeypatch):
    place = tmp_path / "a.png"
    place.write_text("old")
    monkeypatch.setattr(os, "access", lambda *_: False)  # the tests may run as a user above modes
    with pytest.raises(FileTroubleError, match="write-protected"):
        save_figure(small_figure(), place)
    assert place.read_text() == "old"


def test_failed_drawing_leaves_the_old_picture(tmp_path, monkeypatch):
    place = tmp_path / "a.png"
    place.write_text("old")
    figure = small_figure()

    def half(stream, **_):
        stream.write(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(figure, "savefig", half)
    with pytest.raises(FileTroubleError, match="No space left"):
        save_figure(figure, place)
    assert place.read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_svg_for_a_page_has_its_own_names():
    one, two = figure_svg(small_figure(), "a-"), figure_svg(small_figure(), "b-")
    assert one.startswith("<svg")
    names = [set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (one, two)]
    assert not names[0] & names[1]
    targets = set(re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', one))
    assert {a or b for a, b in targets} <= names[0]


def test_names_are_shown_letter_by_letter():
    legend = small_figure().axes[0].get_legend()
    text = legend.get_texts()[0]
    assert text.get_text() == "_one $x"
    assert not text.get_parse_math()


def test_strange_letters_do_not_warn(tmp_path):
    figure = new_figure()
    style_axes(figure.add_subplot(), "x", "y", "磁石 \N{PILE OF POO}")
    save_figure(figure, tmp_path / "a.svg")


def test_plain_text():
    assert plain_text("a\x00b\n\tc") == "a b c"
    assert len(plain_text("x" * 10_000, 90)) == 90
