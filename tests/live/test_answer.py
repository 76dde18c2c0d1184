"""The answers of the page: the figures of the commands, in words."""

import json
from pathlib import Path

import pytest

from fieldsim.live.answer import LINKAGE_TOLERANCE, Desk
from fieldsim.live.draft import PARTS, Draft, draft_of_json
from fieldsim.machine_file.reader import read_text
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.tables.json_documents import effort_json, emf_json
from fieldsim.waveform.flux_table import tolerance_for

GEOMETRIES = sorted((Path(__file__).parents[2] / "geometries").glob("*.yaml"))
LAMPS = next(f for f in GEOMETRIES if f.stem == "lamp_ring").read_text(encoding="utf-8")
BOLT = {"shape": "rod", "diameter": "8 mm", "length": "12 mm"}


def values(answer):
    return {result["name"]: result["value"] for result in answer["results"]}


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_every_shipped_machine_is_answered(file):
    desk, draft = Desk(), Draft(file.read_text(encoding="utf-8"))
    for part in ("light", "meters", "effort"):
        answer = desk.answer("visitor", draft, part)
        assert "problem" not in answer
        json.dumps(answer, allow_nan=False)
    assert answer["crank"].startswith("The crank takes")


def test_figures_are_the_commands_own():
    desk, draft = Desk(), Draft(LAMPS, {}, 60.0)
    light, effort = (desk.answer("visitor", draft, part) for part in ("light", "effort"))
    speed = draft.crank_rad_per_s
    point = OperatingPoint(
        read_text(LAMPS), crank_speed_rad_per_s=speed, tolerance=LINKAGE_TOLERANCE
    )
    shown = values(light)
    lamp = point.light.lamps[0]
    current = shown["light.lamps[0].average_current_A"]
    assert current == pytest.approx(lamp.average_current_A, rel=1e-12)
    assert shown["emf.coils.pickup.rms_V"] == point.figures["pickup"].rms_V
    assert light["figures"]["emf"] == emf_json(point)
    assert effort["figures"]["effort"] == effort_json(point.machine, point.effort)
    torque = point.effort.crank.average_torque_Nm
    assert values(effort)["effort.crank.average_torque_Nm"] == pytest.approx(torque, rel=1e-12)


@pytest.mark.parametrize("file", GEOMETRIES, ids=lambda f: f.stem)
def test_voltages_are_those_of_the_finer_command(file):
    machine = read_text(file.read_text(encoding="utf-8"))
    fine = OperatingPoint(machine, crank_speed_rad_per_s=Draft("").crank_rad_per_s).figures
    shown = values(Desk().answer("visitor", Draft(file.read_text(encoding="utf-8")), "light"))
    for coil, figures in fine.items():
        # Tolerance of the linkage, times the harmonics that an EMF weighs more heavily.
        for name in ("rms_V", "peak_V"):
            value = getattr(figures, name)
            assert shown[f"emf.coils.{coil}.{name}"] == pytest.approx(value, rel=1e-4)


def test_a_bolt_is_worked_out_as_finely_as_iron_is():
    desk = Desk()
    for draft in (Draft(LAMPS), Draft(LAMPS, {"coils.pickup.core": BOLT}), Draft(LAMPS)):
        desk.answer("visitor", draft, "light")
        point = desk._points["visitor"]
        assert point.tolerance == max(LINKAGE_TOLERANCE, tolerance_for(point.machine))


def test_an_answer_does_not_depend_on_the_one_before():
    """Beyond the tolerance of the circuit: a state is found from its neighbour's."""
    walked, fresh = Desk(), Desk()
    for clearance in ("2 mm", "4 mm", "2.5 mm"):
        last = walked.answer("visitor", Draft(LAMPS, {"clearance": clearance}), "light")
    first = fresh.answer("visitor", Draft(LAMPS, {"clearance": "2.5 mm"}), "light")
    assert last["text"] == first["text"]
    for name, value in values(first).items():
        # Averages are found to 1e-4; a peak lies between the steps that the state was found with.
        near = 2e-3 if "peak" in name else 3e-4
        assert values(last)[name] == pytest.approx(value, rel=near), name


def test_one_machine_after_another():
    """Circuits of other parts: what the last one settled at is no beginning for the next."""
    desk, texts = Desk(), {f.stem: f.read_text(encoding="utf-8") for f in GEOMETRIES}
    for name in ("bolt_beside_magnets", "geared_pair", "lamp_ring", "one_rotor", "three_rotors"):
        assert "problem" not in desk.answer("visitor", Draft(texts[name]), "light"), name
    without = Draft(texts["lamp_ring"], {"load.capacitor": None})
    for draft in (Draft(texts["lamp_ring"]), without, Draft(texts["lamp_ring"])):
        shown = values(desk.answer("visitor", draft, "light"))
        fresh = values(Desk().answer("visitor", draft, "light"))
        assert shown["light.useful_power_W"] == pytest.approx(
            fresh["light.useful_power_W"], rel=3e-4
        )


def test_numbers_in_words_are_the_numbers():
    answer = Desk().answer("visitor", Draft(LAMPS), "light")
    for result in answer["results"]:
        number, unit = result["text"].split()[:2]
        size = {"mA": 1e3, "mW": 1e3, "V": 1, "%": 100, "Hz,": 1}[unit]
        assert float(number) == pytest.approx(result["value"] * size, rel=6e-3), result


def test_lamps_glow_as_they_light():
    bright = Desk().answer("visitor", Draft(LAMPS, {}, 120.0), "light")["lamps"][0]
    dim = Desk().answer("visitor", Draft(LAMPS, {}, 45.0), "light")["lamps"][0]
    dark = Desk().answer("visitor", Draft(LAMPS, {}, 10.0), "light")["lamps"][0]
    assert bright["glow"] > dim["glow"] > dark["glow"] == 0
    assert bright["count"] == 6
    assert 0 <= bright["glow_least"] < bright["glow"] <= 1


def test_waves_say_what_they_show():
    waves = Desk().answer("visitor", Draft(LAMPS), "light")["waves"]
    top = max(waves["voltage_V"][0]["values"])
    assert len(waves["time_ms"]) == len(waves["voltage_V"][0]["values"]) <= 480
    assert waves["voltage_words"].startswith("Voltage over one repeat of 83.")
    assert f"to {top:.2f} V" in waves["voltage_words"]
    assert "mA" in waves["current_words"]


def test_waves_lie_within_their_axes():
    waves = Desk().answer("visitor", Draft(LAMPS), "light")["waves"]
    assert waves["voltage_axis"]["title"] == "voltage [V]"
    for key, axis in (("voltage_V", "voltage_axis"), ("current_mA", "current_axis")):
        low, high = (waves[axis][end] for end in ("low", "high"))
        found = [value for series in waves[key] for value in series["values"]]
        assert low <= min(found) < max(found) <= high
        assert max(found) - min(found) > 0.4 * (high - low)
    assert waves["time_axis"]["high"] == pytest.approx(waves["time_ms"][-1], abs=1e-3)


def test_what_stands_still_is_drawn_once():
    desk = Desk()
    first = desk.answer("visitor", Draft(LAMPS), "light")
    lamps = desk.answer("visitor", Draft(LAMPS, {"load.lamps.parallel": "4"}), "light")
    assert lamps["scene"] is first["scene"]
    assert lamps["text"] != first["text"]
    moved = desk.answer("visitor", Draft(LAMPS, {"clearance": "3 mm"}), "light")
    assert (
        moved["scene"]
        == Desk().answer("visitor", Draft(LAMPS, {"clearance": "3 mm"}), "light")["scene"]
    )
    assert moved["scene"] != first["scene"]


def test_iron_is_looked_at_by_itself():
    bolt = next(f for f in GEOMETRIES if f.stem == "bolt_beside_magnets").read_text(
        encoding="utf-8"
    )
    strong = {"magnets.bar.remanence": "1.45 T", "coils.pickup.core.diameter": "5 mm"}
    desk = Desk()
    texts = desk.answer("visitor", Draft(bolt, strong), "iron")["cautions"]
    point = OperatingPoint(
        read_text(bolt).changed(strong), crank_speed_rad_per_s=Draft("").crank_rad_per_s
    )
    assert point.saturation
    assert len(texts) == len(point.saturation)
    assert set(point.saturation) <= set(point.light.cautions)
    assert set(point.saturation).isdisjoint(point.metered.cautions)
    assert desk.answer("visitor", Draft(LAMPS), "iron") == {"cautions": []}


def test_meter_shows_what_light_prints():
    rows = Desk().answer("visitor", Draft(LAMPS), "meters")["meters"]
    by_words = {row["words"]: row["cells"] for row in rows}
    dc = by_words["bridge output, load connected"][0]
    point = OperatingPoint(read_text(LAMPS), "90 rpm", tolerance=LINKAGE_TOLERANCE)
    row = next(r for r in point.light.meters if r.where == "bridge output" and r.loaded)
    assert dc["value"] == row.readings.dc_V
    assert float(dc["text"]) == pytest.approx(row.readings.dc_V, rel=5e-3)


def test_without_lamps_the_voltage_is_told():
    answer = Desk().answer("visitor", Draft(LAMPS, {"load": None}), "light")
    assert answer["verdict"].startswith("Open circuit")
    assert answer["lamps"] == []
    assert "emf.coils.pickup.rms_V" in values(answer)


def test_advice():
    advice = Desk().answer("visitor", Draft(LAMPS), "advice")
    assert advice["kind"] == "light"
    gains = [step["value"] for step in advice["steps"]]
    assert gains == sorted(gains, reverse=True)
    assert advice["steps"][0]["gain"].endswith("%")


def test_cautions_stand_beside_the_numbers():
    effort = Desk().answer("visitor", Draft(LAMPS), "effort")
    assert any("eye protection" in text or "pinch" in text for text in effort["cautions"])
    hot = Desk().answer("visitor", Draft(LAMPS, {"load.lamps.parallel": "1"}, 240.0), "light")
    assert any("above its rated" in text for text in hot["cautions"])


@pytest.mark.parametrize("part", PARTS)
def test_wrong_text_has_a_line(part):
    problem = Desk().answer("visitor", Draft("title: x\nmagnets: 3\n"), part)["problem"]
    assert problem["words"]
    assert problem["line"] >= 1


def test_what_is_kept_stays_small():
    desk = Desk()
    for i in range(30):
        desk.answer(f"visitor {i}", Draft(LAMPS, {}, 60.0 + i), "light")
        desk.answer("walker", Draft(LAMPS, {}, 60.0 + i), "light")
    assert len(desk._points) == len(desk._shown) == 24
    assert len(desk._machines) <= 24
    assert desk._points["walker"].near is not None
    assert all(point.near is None or point.near.near is None for point in desk._points.values())


def test_a_draft_from_json():
    draft, sent = draft_of_json(
        json.dumps({"text": "a", "changes": {"clearance": "1 mm"}, "crank_rpm": -30, "part": "x"})
        .encode()
    )  # fmt: skip
    assert draft == Draft("a", {"clearance": "1 mm"}, -30.0)
    assert sent["part"] == "x"
