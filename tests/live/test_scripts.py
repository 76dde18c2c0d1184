"""The page's scripts: types as their comments say them, by the compiler of the npm registry."""

import shutil
import subprocess
from pathlib import Path

import pytest

CONFIG = Path(__file__).parents[1] / "browser" / "jsconfig.json"


@pytest.mark.skipif(shutil.which("npm") is None, reason="no npm is installed")
def test_types():
    compiler = ["npm", "exec", "--yes", "--package=typescript@5", "--", "tsc"]
    found = subprocess.run([*compiler, "--version"], capture_output=True, text=True, timeout=120)
    if found.returncode:
        pytest.skip("the compiler cannot be fetched")
    done = subprocess.run([*compiler, "-p", str(CONFIG)], capture_output=True, text=True)
    assert done.stdout == ""
    assert done.returncode == 0
