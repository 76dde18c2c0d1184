"""``search``: what is printed and written, how it goes on, and what is refused."""

import json

import h5py
import pytest
import xarray

import fieldsim as fs
from fieldsim.charts import search_curves
from fieldsim.studies.search import search
from fieldsim.studies.wish import read_wish
from fieldsim.tables.search_file import load_search

TRIES = 30


@pytest.fixture
def wish(tmp_path, geometries):
    """Return a function that writes the shipped wish with some words changed."""
    text = (geometries / "wishes" / "six_lamps.yaml").read_text(encoding="utf-8")
    text = text.replace("../", f"{geometries}/").replace("tries: 200", f"tries: {TRIES}")

    def made(*changes, name="wish.yaml"):
        changed = text
        for old, new in changes:
            assert old in changed
            changed = changed.replace(old, new)
        (tmp_path / name).write_text(changed, encoding="utf-8")
        return tmp_path / name

    return made


def test_the_screen_the_json_and_the_files_tell_of_one_search(run, wish, tmp_path):
    file, out, table = wish(), tmp_path / "best.yaml", tmp_path / "all.h5"
    code, text, err = run("search", file, "--out", out, "--table", table)
    assert (code, err) == (0, "")
    assert max(map(len, text.splitlines())) <= 80
    found = search(read_wish(file))
    told = json.loads(run("search", file, "--json").out)
    best = told["best"]
    assert best["values"] == dict(found.changes[found.best])
    assert best["useful_power_W"] == pytest.approx(found.wanted[found.best, 0])
    assert best["wire_length_m"] == pytest.approx(-found.wanted[found.best, 1])
    assert f"{told['fulfil']} of {TRIES} machines tried fulfil the wish." in text
    first = next(line for line in text.splitlines() if line.startswith("1 "))
    assert first.split()[1:3] == best["values"]["clearance"].split()
    assert float(first.split()[-1]) == pytest.approx(best["wire_length_m"], rel=1e-3)

    winner = fs.read(out)
    assert winner == found.machine(found.best)
    point = fs.OperatingPoint(winner, "90 rpm")
    assert all(lamp.lights for lamp in point.light.lamps)
    assert run("check", out).code == 0

    with xarray.open_dataset(table, engine="h5netcdf") as data:
        assert dict(data.sizes) == {"machine": TRIES, "path": 3, "must": 4}
        assert data.useful_power_W.attrs["units"] == "W"
        assert int(data.fulfils.sum()) == told["fulfil"]
        row = data.sel(machine=best["machine"])
        assert row.value.sel(path="clearance").item() == best["values"]["clearance"]


def test_when_nothing_fulfils_it_says_what_stands_in_the_way(run, wish, tmp_path):
    file, out = wish(("150 m", "3 m")), tmp_path / "best.yaml"
    code, text, err = run("search", file, "--out", out)
    assert code == 2
    assert "None of 30 machines tried fulfils the wish." in text
    free = search(read_wish(file)).freed["wire_length_at_most"]
    told = " ".join(text.split())
    assert f"stands the most wire: without it {free} would fulfil the wish." in told
    assert err == f"fieldsim: {out}: not written, for no machine fulfils the wish\n"
    assert not out.exists()
    told = json.loads(run("search", file, "--json").out)
    assert (told["best"], told["in_the_way"]) == (None, "wire_length_at_most")


def test_a_stopped_search_keeps_its_table_and_goes_on_to_the_same_bytes(
    run, wish, tmp_path, monkeypatch
):
    file = wish(("tries: 30", "tries: 70"))
    whole, part, again = (tmp_path / f"{name}.h5" for name in ("whole", "part", "again"))
    assert run("search", file, "--table", whole).code == 0

    def stopped(asked, *, progress, known):
        def until(tried):
            progress(tried)
            if len(tried) >= 50:
                raise KeyboardInterrupt

        return search(asked, progress=until, known=known)

    with monkeypatch.context() as patched:
        patched.setattr("fieldsim.studies.search.search", stopped)
        code, out, err = run("search", file, "--table", part)
    assert (code, out, err.strip()) == (130, "", "fieldsim: stopped")
    kept = load_search(part, read_wish(file))
    assert 50 <= len(kept) < 70
    assert run("search", file, "--resume", part, "--table", again).code == 0
    assert again.read_bytes() == whole.read_bytes()


def test_resuming_refuses_what_is_not_of_this_wish(run, refused, wish, tmp_path):
    file, table = wish(), tmp_path / "all.h5"
    assert run("search", file, "--table", table).code == 0
    other = wish(("seed: 1", "seed: 2"), name="other.yaml")
    assert refused("search", other, "--resume", table).startswith(f"{table}: is of another wish")
    assert "no such file" in refused("search", file, "--resume", tmp_path / "none.h5")
    (tmp_path / "text.h5").write_text("no table")
    assert "as a table of a search" in refused("search", file, "--resume", tmp_path / "text.h5")
    with h5py.File(table, "r+") as data:
        del data["useful_power_W"]
    assert "as a table of a search" in refused("search", file, "--resume", table)


@pytest.mark.parametrize(
    ("option", "name"), [("--out", "best.txt"), ("--table", "all.csv"), ("--plot", "all.txt")]
)
def test_a_file_of_another_kind_is_refused_before_the_work(refused, wish, tmp_path, option, name):
    assert name in refused("search", wish(), option, tmp_path / name)
    assert not (tmp_path / name).exists()


def test_what_is_wrong_with_a_wish_is_one_line(refused, wish):
    file = wish(("{from: 1 mm, to: 4 mm}", "{from: 4 mm, to: 1 mm}"))
    assert refused("search", file) == (
        f"{file}:6: may_vary.clearance: from 4 mm to 1 mm leaves nothing; from must be below to"
    )


def test_the_trade_off_is_drawn_with_units(wish, tmp_path, monkeypatch):
    kept = []
    monkeypatch.setattr(search_curves, "save_figure", lambda figure, _path: kept.append(figure))
    found = search(read_wish(wish()))
    search_curves.save_search_plot(found, tmp_path / "plot.png")
    (axes,) = kept[0].axes
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("wire (m)", "useful power (mW)")
    (line,) = axes.lines
    front = list(found.unbeaten)
    assert line.get_xdata() == pytest.approx(-found.wanted[front, 1])
    assert line.get_ydata() == pytest.approx(1e3 * found.wanted[front, 0])
