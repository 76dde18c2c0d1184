"""The ``new`` command: what it writes and prints, and that it destroys nobody's work."""

from __future__ import annotations

import json

import pytest

import fieldsim as fs


def test_without_a_kind_it_lists_them(run):
    outcome = run("new")
    assert (outcome.code, outcome.err) == (0, "")
    assert "  facing             two rotors that face each other, a coil between" in outcome.out
    assert "  lamp_ring          Two facing rotors light a ring of lamps\n" in outcome.out
    assert "\nwishes, for fieldsim search:\n  six_lamps          Six lamps at a" in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 80
    told = json.loads(run("new", "--json").out)
    assert [wish["wish"] for wish in told["wishes"]] == ["six_lamps"]
    found = told["kinds"]
    assert [kind["kind"] for kind in found] == list(fs.starting_kinds())
    assert found[0] == {"kind": "single", "about": "one rotor beside a coil", "shipped": False}


def test_it_prints_the_file(run):
    outcome = run("new", "inside", "--lamps")
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out == fs.starting_text("inside", lamps=True)


@pytest.mark.parametrize("kind", ["facing", "two_coils"])
def test_it_writes_the_file(kind, run, tmp_path):
    path = tmp_path / "mine.yaml"
    outcome = run("new", kind, "--out", path)
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out == f"The file is {path}; change it, and try fieldsim check on it.\n"
    assert path.read_text(encoding="utf-8") == fs.starting_text(kind)
    assert run("check", path).code == 0
    assert [p.name for p in tmp_path.iterdir()] == ["mine.yaml"]


def test_it_writes_a_wish_that_needs_no_other_file(run, tmp_path):
    path = tmp_path / "wish.yaml"
    outcome = run("new", "six_lamps", "--out", path)
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out == f"The file is {path}; change it, and try fieldsim search on it.\n"
    assert [p.name for p in tmp_path.iterdir()] == ["wish.yaml"]
    assert fs.read_wish(path).machine == fs.starting_machine("lamp_ring")


def test_as_json_it_gives_the_text(run, tmp_path):
    path = tmp_path / "mine.yaml"
    outcome = run("new", "single", "--gears", "--json", "--out", path)
    text = fs.starting_text("single", gears=True)
    assert json.loads(outcome.out) == {"kind": "single", "file": str(path), "text": text}
    assert path.read_text(encoding="utf-8") == text
    assert json.loads(run("new", "single", "--json").out)["file"] is None


def test_an_existing_file_is_kept_unless_told(run, refused, tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text("hours of work")
    assert refused("new", "single", "--out", path) == (
        f"{path}: exists already; choose another name, or add --replace"
    )
    assert path.read_text() == "hours of work"
    assert run("new", "single", "--out", path, "--replace").code == 0
    assert path.read_text(encoding="utf-8") == fs.starting_text("single")


def test_wrong_words_are_refused_before_anything_is_written(refused, tmp_path):
    path = tmp_path / "mine.yaml"
    assert refused("new", "sinle", "--out", path).startswith(
        'no kind "sinle"; did you mean "single"'
    )
    assert "copied as it is" in refused("new", "lamp_ring", "--gears", "--out", path)
    assert refused("new", "--out", path).startswith("give a kind: single, facing, inside, bar_")
    assert refused("new", "--lamps").startswith("give a kind: single")
    assert "there is no folder" in refused("new", "single", "--out", tmp_path / "no" / "a.yaml")
    assert list(tmp_path.iterdir()) == []
