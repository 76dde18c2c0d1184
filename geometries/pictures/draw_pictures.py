"""Draw the README's pictures by its own commands: ``python geometries/pictures/draw_pictures.py``.

From the clone. The page with sliders is photographed by ``shoot_page.py``.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import tempfile
from pathlib import Path

from fieldsim.cli import main

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


def lines_before(readme: str) -> list[str]:
    """Return the commands of a README that write the files which others begin with."""
    return re.findall(r"^fieldsim (new .* --out .*)$", readme, flags=re.MULTILINE)


def lines_that_draw(readme: str) -> dict[str, str]:
    """Return the commands that draw what a README shows, by the names of the pictures."""
    shown = re.findall(r"\]\(geometries/pictures/(\w+\.png)\)", readme)
    lines = re.findall(r"^fieldsim (.+)$", readme, flags=re.MULTILINE)
    return {name: line for name in shown for line in lines if name in shlex.split(line)}


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        Path("geometries").symlink_to(ROOT / "geometries")
        readme = (ROOT / "README.md").read_text("utf-8")
        for line in lines_before(readme):
            main(shlex.split(line))
        for name, line in lines_that_draw(readme).items():
            main(shlex.split(line))
            shutil.copy(name, HERE / name)
