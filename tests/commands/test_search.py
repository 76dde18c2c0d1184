"""``search``: what is printed and written, how it goes on, and what is refused."""

import errno
import json

import h5py
import pytest
import xarray

import fieldsim as fs
from fieldsim.charts import search_curves
from fieldsim.studies.search import search
from fieldsim.studies.wish_file import read_wish
from fieldsim.tables.search_file import load_search

TRIES = 30


@pytest.fixture
def wish(tmp_path, geometries):
    """Return a function that writes the shipped wish with some words changed."""
    text = (geometries / "wishes" / "six_lamps.yaml").read_text(encoding="utf-8")
    text = text.replace("tries: 400", f"tries: {TRIES}")

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
    assert best["values"] == found.values(found.best)
    wanted = found.figures.wanted[found.best]
    assert best["useful_power_W"] == pytest.approx(wanted[0])
    assert best["wire_length_m"] == pytest.approx(-wanted[1])
    assert best["excess"]["lamps_lit"] <= 0
    assert f"{told['fulfil']} of {TRIES} machines tried fulfil the wish." in text
    first = next(line for line in text.splitlines() if line.startswith("1 "))
    assert first.split()[1:3] == best["values"]["coils.pickup.wire.gauge"].split()
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
        assert (int(data.fulfils.sum()) == (data.excess <= 0).all("must").sum()).item()
        row = data.sel(machine=best["machine"])
        assert row.value.sel(path="clearance").item() == best["values"]["clearance"]


def test_when_nothing_fulfils_it_says_what_stands_in_the_way(run, wish, tmp_path):
    file, out = (
        wish(("150 m", "3 m"), ("140 m", "3 m"), ("60 m", "3 m"), ("250 m", "3 m")),
        tmp_path / "best.yaml",
    )
    code, text, err = run("search", file, "--out", out)
    assert code == 2
    assert "None of 30 machines tried fulfils the wish." in text
    free = search(read_wish(file)).freed["wire_in_stock"]
    told = " ".join(text.split())
    assert f"stands the wire in stock: without it {free} would fulfil the wish." in told
    assert err == f"fieldsim: {out}: not written, for no machine fulfils the wish\n"
    assert not out.exists()
    told = json.loads(run("search", file, "--json").out)
    assert (told["best"], told["in_the_way"]) == (None, "wire_in_stock")


def test_a_stopped_search_keeps_its_table_and_goes_on_to_the_same_bytes(
    run, wish, tmp_path, monkeypatch
):
    file = wish(("tries: 30", "tries: 70"))
    whole, part = (tmp_path / f"{name}.h5" for name in ("whole", "part"))
    assert run("search", file, "--table", whole).code == 0

    def stopped(asked, *, executor, progress, known):
        assert executor is None

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
    assert run("search", file, "--resume", part, "--table", part, "--workers", 2).code == 0
    assert part.read_bytes() == whole.read_bytes()


def test_a_table_is_kept_on_the_way(run, wish, tmp_path, monkeypatch):
    saved = []
    monkeypatch.setattr("fieldsim.commands.search._BETWEEN_TABLES_S", 0.0)
    monkeypatch.setattr(
        "fieldsim.tables.dataset.save_dataset", lambda dataset, _path: saved.append(dataset)
    )
    assert run("search", wish(), "--table", tmp_path / "all.h5").code == 0
    counts = [len(dataset.dimensions[0].values) for dataset in saved]
    assert counts == sorted(counts)
    assert (counts[0] < TRIES, counts[-1]) == (True, TRIES)


def test_a_full_disk_is_told_in_one_line(refused, wish, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("fieldsim.tables.dataset._write_hdf5", full)
    table = tmp_path / "all.h5"
    said = refused("search", wish(), "--table", table)
    assert said == f"{table}: cannot be written: No space left on device"
    assert list(tmp_path.iterdir()) == [tmp_path / "wish.yaml"]


def test_resuming_refuses_what_is_not_of_this_wish(run, refused, wish, tmp_path):
    file, table = wish(), tmp_path / "all.h5"
    assert run("search", file, "--table", table).code == 0
    other = wish(("tries: ", "seed: 2\ntries: "), name="other.yaml")
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
    file = wish(("from: 1 mm, to: 4 mm,", "from: 4 mm, to: 1 mm,"))
    assert refused("search", file) == (
        f"{file}:11: may_vary.clearance: from 4 mm to 1 mm leaves nothing; from must be below to"
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
    assert line.get_xdata() == pytest.approx(-found.figures.wanted[front, 1])
    assert line.get_ydata() == pytest.approx(1e3 * found.figures.wanted[front, 0])


ONE = """
machine: {machine}
crank_speed: 90 rpm
stock:
  wire: {{AWG 30: 60 m, AWG 32: 90 m}}
may_vary:
  coils.pickup.wire.gauge: stock
  load.lamps.parallel: {{from: 4, to: 6}}
must: {{lamps_lit: true}}
want: {want}
"""


def test_one_want_has_one_winner_and_says_that_all_were_tried(run, tmp_path, geometries):
    file, plot = tmp_path / "one.yaml", tmp_path / "one.svg"
    text = ONE.format(machine=geometries / "lamp_ring.yaml", want="light")
    file.write_text(text, encoding="utf-8")
    code, text, err = run("search", file, "--plot", plot)
    assert (code, err) == (0, "")  # the question is answered
    assert "None of all 6 machines that there are fulfils the wish." in text
    assert "Most in the way stands the wire in stock: without it 6 would" in text
    file.write_text(file.read_text().replace("90 m", "140 m"), encoding="utf-8")
    code, text, err = run("search", file, "--plot", plot)
    assert (code, err) == (0, "")
    assert "3 of all 6 machines that there are fulfil the wish." in text
    assert "All of these have coils.pickup.wire.gauge = AWG 32." in text
    shown = plot.read_text(encoding="utf-8")
    assert all(
        word in shown for word in ("useful power (mW)", "machines tried (count)", "the best")
    )
