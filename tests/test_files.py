"""Writing whole or not at all, at the level of the library."""

from __future__ import annotations

import pytest

from fieldsim.errors import FileTroubleError
from fieldsim.files import ending_of, place_for, written_whole


def test_success_replaces(tmp_path):
    place = tmp_path / "a.txt"
    place.write_text("old")
    with written_whole(place) as passing:
        assert place.read_text() == "old"
        assert passing.parent == tmp_path
        passing.write_text("new")
    assert place.read_text() == "new"
    assert list(tmp_path.iterdir()) == [place]


@pytest.mark.parametrize("error", [KeyError("x"), KeyboardInterrupt(), MemoryError()])
def test_any_failure_leaves_the_old_file_and_nothing_else(error, tmp_path):
    place = tmp_path / "a.txt"
    place.write_text("old")

    def write():
        with written_whole(place) as passing:
            passing.write_text("half")
            raise error

    with pytest.raises(type(error)):
        write()
    assert place.read_text() == "old"
    assert list(tmp_path.iterdir()) == [place]


def test_trouble_with_the_disk_is_told(tmp_path):
    place = tmp_path / "a.txt"
    words = r"a\.txt: cannot be written: No space left"
    with pytest.raises(FileTroubleError, match=words), written_whole(place):
        raise OSError(28, "No space left on device")
    assert list(tmp_path.iterdir()) == []


def test_place_follows_links(tmp_path):
    link = tmp_path / "link.csv"
    link.symlink_to(tmp_path / "real.csv")
    assert place_for(link) == (tmp_path / "real.csv").resolve()


def test_relative_names(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with written_whole("a.txt") as passing:
        passing.write_text("x")
    assert (tmp_path / "a.txt").read_text() == "x"


@pytest.mark.parametrize("name", ["a.b.CSV", "./a.csv", "dir.h5/a.csv"])
def test_endings(name):
    assert ending_of(name, [".csv", ".h5"], "table") == ".csv"


@pytest.mark.parametrize("name", ["", "csv", ".csv", "a.csv.", "a.csv ", "a.h5/", "a.csvv"])
def test_other_endings(name):
    if name == "a.h5/":  # the library drops the slash: it is a name like any other
        assert ending_of(name, [".csv", ".h5"], "table") == ".h5"
        return
    with pytest.raises(FileTroubleError, match=r"must end in \.csv or \.h5, not"):
        ending_of(name, [".csv", ".h5"], "table")
