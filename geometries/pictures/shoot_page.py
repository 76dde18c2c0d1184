"""Take the README's picture of the page: ``python geometries/pictures/shoot_page.py``.

Needs Chromium with its driver, and what the tests need.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1] / "tests"))

from browsers import headless, shaped
from served import served


def shoot(place: Path) -> None:
    """Write the picture of the page once everything is on it."""
    with served() as server, tempfile.TemporaryDirectory() as profile, headless(profile) as driver:
        shaped(driver, 1280, 800)
        driver.get(server.address)
        for _ in range(120):
            time.sleep(0.5)
            if driver.execute_script("return document.querySelectorAll('#steps li').length"):
                break
        driver.save_screenshot(str(place))


if __name__ == "__main__":
    shoot(HERE / "live.png")
