"""A report's folder: made whole, replaced file by file, everything else refused and untouched."""

import os

import numpy as np
import pytest

from fieldsim.errors import FileTroubleError
from fieldsim.report.folder import LIST_NAME, folder_for, save_folder
from fieldsim.tables.dataset import Dataset, Dimension, Variable

TABLE = Dataset(
    (Dimension("time_s", np.array([0.0, 1.0])),),
    (Variable("emf_V", ("time_s",), np.array([0.5, -0.5])),),
)


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_new_folder(tmp_path):
    out = tmp_path / "report"
    save_folder(out, {"index.html": b"page", "t.csv": TABLE, "t.h5": TABLE})
    assert names(out) == sorted(["index.html", "t.csv", "t.h5", LIST_NAME])
    assert (out / "index.html").read_bytes() == b"page"
    assert (out / "t.csv").read_text() == "time_s,emf_V\n0.0,0.5\n1.0,-0.5\n"
    assert names(tmp_path) == ["report"]


def test_an_empty_folder_is_used(tmp_path):
    save_folder(tmp_path, {"a": b"1"})
    assert names(tmp_path) == ["a", LIST_NAME]


def test_an_earlier_report_is_replaced_file_by_file(tmp_path):
    save_folder(tmp_path, {"index.html": b"old", "gone.csv": TABLE})
    (tmp_path / "my notes.txt").write_text("kept")
    save_folder(tmp_path, {"index.html": b"new", "t.csv": TABLE})
    assert names(tmp_path) == sorted(["index.html", "my notes.txt", LIST_NAME, "t.csv"])
    assert (tmp_path / "index.html").read_bytes() == b"new"
    assert (tmp_path / "my notes.txt").read_text() == "kept"


@pytest.mark.parametrize("line", ["../outside.txt", "/etc/passwd", "sub/file", ".."])
def test_a_forged_list_removes_nothing_elsewhere(line, tmp_path):
    (tmp_path / "outside.txt").write_text("kept")
    out = tmp_path / "out"
    save_folder(out, {"a": b"1"})
    (out / "sub").mkdir()
    (out / "sub" / "file").write_text("kept")
    with (out / LIST_NAME).open("a") as stream:
        stream.write(line + "\n")
    save_folder(out, {"b": b"2"})
    assert (tmp_path / "outside.txt").read_text() == "kept"
    assert (out / "sub" / "file").read_text() == "kept"
    assert not (out / "a").exists()


def refused(path):
    with pytest.raises(FileTroubleError) as caught:
        folder_for(path)
    message = str(caught.value)
    assert "\n" not in message
    with pytest.raises(FileTroubleError):
        save_folder(path, {"a": b"1"})
    return message


def test_a_folder_with_other_things(tmp_path):
    (tmp_path / "thesis.tex").write_text("kept")
    assert "holds other things than an earlier report" in refused(tmp_path)
    (tmp_path / LIST_NAME).write_text("something else\n")
    assert "holds other things" in refused(tmp_path)
    assert names(tmp_path) == sorted([LIST_NAME, "thesis.tex"])


def test_a_file(tmp_path):
    file = tmp_path / "a.html"
    file.write_text("kept")
    assert "this is a file, not a folder" in refused(file)
    assert file.read_text() == "kept"


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("none/report", "there is no folder"),
        ("x" * 300, "File name too long"),
        ("a\0b", "null"),
        ("", "name of the report's folder is empty"),
    ],
)
def test_no_such_place(name, problem, tmp_path):
    assert problem in refused(f"{tmp_path}/{name}" if name else "")
    assert names(tmp_path) == []


def test_protected_places(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_: False)  # a superuser may write anywhere
    assert "it is to be in is write-protected" in refused(tmp_path / "new")
    assert "the folder is write-protected" in refused(tmp_path)


def test_a_link_is_followed(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    save_folder(tmp_path / "link", {"a": b"1"})
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real" / "a").read_bytes() == b"1"


@pytest.mark.parametrize("there", [False, True])
def test_what_cannot_be_finished_leaves_nothing(there, tmp_path, monkeypatch):
    out = tmp_path / "out"
    if there:
        save_folder(out, {"a": b"old"})

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldsim.report.folder.write_dataset", full)
    with pytest.raises(FileTroubleError, match="cannot be written: No space left on device"):
        save_folder(out, {"a": b"new", "t.csv": TABLE})
    assert names(tmp_path) == (["out"] if there else [])
    if there:
        assert names(out) == ["a", LIST_NAME]
        assert (out / "a").read_bytes() == b"old"
