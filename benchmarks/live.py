"""How fast the page with sliders answers: in a browser, and with thirty visitors at once.

    .venv/bin/python benchmarks/live.py            all shipped machines in the browser, 30 visitors
    .venv/bin/python benchmarks/live.py lamp_ring  one machine

The browser's own clock takes the time from the move to the answer on the screen.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

TESTS = Path(__file__).parents[1] / "tests"
GEOMETRIES = Path(__file__).parents[1] / "geometries"
VISITORS, MOVES, PAUSE_S = 30, 8, 1.0

_MOVE = """
const done = arguments[0];
(async () => {
  performance.clearMeasures();
  const wanted = [...document.querySelectorAll('#groups input[type=range], #rpm-slider')];
  for (const first of wanted) {
    const id = first.id;
    for (const step of [1, 2, -1]) {
      const slider = document.getElementById(id);
      if (!slider) continue;
      slider.value = Number(slider.value) + step * Number(slider.step);
      slider.dispatchEvent(new Event('input'));
      slider.dispatchEvent(new Event('change'));
      await new Promise(r => setTimeout(r, 60));
      while (document.querySelector('main.waiting')) await new Promise(r => setTimeout(r, 5));
    }
  }
  done(performance.getEntriesByName('answer').map(e => e.duration));
})();
"""


def main(names: list[str]) -> None:
    """Print the times."""
    sys.path.insert(0, str(TESTS))
    files = [GEOMETRIES / f"{n}.yaml" for n in names] or sorted(GEOMETRIES.glob("*.yaml"))
    print(f"{'machine':20} {'moves':>6} {'median':>8} {'95 %':>8} {'most':>8}   [ms]")
    for file in files:
        _row(file.stem, _in_browser(file.stem))
    _row(f"{VISITORS} visitors", _crowd("lamp_ring"))


def _row(name: str, times_ms: list[float]) -> None:
    times = sorted(times_ms)
    median, late = statistics.median(times), times[int(0.95 * (len(times) - 1))]
    print(f"{name:20} {len(times):6} {median:8.0f} {late:8.0f} {times[-1]:8.0f}")


def _in_browser(name: str) -> list[float]:
    from browsers import headless, shaped
    from served import served

    with (
        served(geometry=name) as server,
        tempfile.TemporaryDirectory() as profile,
        headless(profile) as driver,
    ):
        shaped(driver, 1280, 800)
        driver.set_script_timeout(600)
        driver.get(server.address)
        time.sleep(5)
        found: list[float] = driver.execute_async_script(_MOVE)
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
    main(sys.argv[1:])
