"""How fast the page with sliders answers: in a browser, and with thirty visitors at once.

    .venv/bin/python benchmarks/live.py            all shipped machines in the browser, 30 visitors
    .venv/bin/python benchmarks/live.py lamp_ring  one machine
    .venv/bin/python benchmarks/live.py lamp_ring --against FOLDER
                                                   in turn with the checkout of another commit

The browser's own clock takes the time from the move of a slider to the frame that shows its answer:
words, lamps, figures, curves, scene and controls. A move to parts that collide is taken back and
not counted. The slowest sliders of a machine stand under it, with the median of each.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
TESTS = ROOT / "tests"
GEOMETRIES = ROOT / "geometries"
VISITORS, MOVES, PAUSE_S = 30, 8, 1.0
SLOWEST = 3

_MOVE = """
const done = arguments[0], main = document.querySelector('main');
const frame = () => new Promise(shown => requestAnimationFrame(() => {
  const after = new MessageChannel();
  after.port1.onmessage = () => shown(performance.now());
  after.port2.postMessage(0);
}));
const answered = () => new Promise(seen => {
  const look = () => { if (!main.classList.contains('waiting')) { watch.disconnect(); seen(); } };
  const watch = new MutationObserver(look);
  watch.observe(main, { attributes: true, attributeFilter: ['class'] });
  look();
});
(async () => {
  const times = [];
  const ids = [...document.querySelectorAll('#groups input[type=range], #rpm-slider')]
    .map(slider => slider.id);
  for (const id of ids) for (const step of [1, 2, -1]) {
    const slider = document.getElementById(id);
    if (!slider) continue;
    slider.value = Number(slider.value) + step * Number(slider.step);
    const began = performance.now();
    slider.dispatchEvent(new Event('input'));
    slider.dispatchEvent(new Event('change'));
    await answered();
    const took = await frame() - began;
    if (document.querySelector('#trouble').hidden) times.push([id, took]);
    else { document.querySelector('#undo').click(); await answered(); }
    await new Promise(rested => setTimeout(rested, 60));
  }
  done(times);
})();
"""


def main() -> None:
    """Print the times."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="MACHINE")
    parser.add_argument("--against", type=Path, help="checkout of another commit")
    asked = parser.parse_args()
    sys.path.insert(0, str(TESTS))
    names = asked.names or sorted(file.stem for file in GEOMETRIES.glob("*.yaml"))
    trees = [ROOT] if asked.against is None else [asked.against.resolve(), ROOT]
    print(f"{'machine':24} {'moves':>6} {'median':>8} {'95 %':>8} {'most':>8}   [ms]    load")
    for name in names:
        for tree in trees:
            moves = _in_browser(name, tree)
            _row(name if tree == ROOT else f"{name}, there", [took for _, took in moves])
            print(f"    {_slowest(moves)}")
    if not asked.names:
        _row(f"{VISITORS} visitors", _crowd("lamp_ring"))


def _row(name: str, times_ms: list[float]) -> None:
    times = sorted(times_ms)
    median, late = statistics.median(times), times[int(0.95 * (len(times) - 1))]
    load = os.getloadavg()[0]
    print(
        f"{name:24} {len(times):6} {median:8.0f} {late:8.0f} {times[-1]:8.0f} {load:14.1f}",
        flush=True,
    )


def _slowest(moves: list[tuple[str, float]]) -> str:
    by_slider: dict[str, list[float]] = {}
    for slider, took in moves:
        by_slider.setdefault(re.sub("-+", " ", slider.removeprefix("c-")).strip(), []).append(took)
    medians = sorted(((statistics.median(t), s) for s, t in by_slider.items()), reverse=True)
    return "; ".join(f"{slider} {median:.0f}" for median, slider in medians[:SLOWEST])


def _in_browser(name: str, tree: Path) -> list[tuple[str, float]]:
    """Return the moved sliders and how long each took to be answered on the screen [ms]."""
    from browsers import headless, shaped
    from served import served

    with (
        served(geometry=name, tree=tree) as server,
        tempfile.TemporaryDirectory() as profile,
        headless(profile) as driver,
    ):
        shaped(driver, 1280, 800)
        driver.set_script_timeout(600)
        driver.get(server.address)
        time.sleep(5)
        found: list[tuple[str, float]] = driver.execute_async_script(_MOVE)
        return found


def _crowd(name: str) -> list[float]:
    """Return how long each of many visitors waited for each of their moves [ms]."""
    from served import served

    text = (GEOMETRIES / f"{name}.yaml").read_text(encoding="utf-8")
    times: list[float] = []
    with served(geometry=name) as server:

        def visit(number: int) -> None:
            for move in range(MOVES):
                changes: dict[str, Any] = {"clearance": f"{2 + 0.05 * move + 0.01 * number:.3f} mm"}
                began = time.perf_counter()
                status, answer = server.answer(text, visitor=f"visitor {number}", changes=changes)
                if status != 200 or "problem" in answer:
                    raise RuntimeError(json.dumps(answer)[:200])
                times.append(1e3 * (time.perf_counter() - began))
                time.sleep(PAUSE_S)

        visit(0)  # the processes have loaded what they need
        times.clear()
        hands = [threading.Thread(target=visit, args=(i,)) for i in range(VISITORS)]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
    return times


if __name__ == "__main__":
    main()
