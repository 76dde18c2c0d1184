"""Work in other processes."""

import subprocess
import sys

import pytest

# Without a guard against being imported again.
SCRIPT = """
import sys
from fieldsim.report.beside import workers
print("ran", flush=True)
itself = sys.modules["__main__"]
with workers(1) as pool:
    print(pool.submit(abs, -2).result())
assert sys.modules["__main__"] is itself
"""


@pytest.mark.parametrize("from_file", [True, False])
def test_a_script_is_not_run_again_by_its_processes(from_file, tmp_path):
    script = tmp_path / "script.py"
    script.write_text(SCRIPT, encoding="utf-8")
    with script.open(encoding="utf-8") as stream:
        command = [sys.executable, str(script) if from_file else "-"]
        done = subprocess.run(command, stdin=stream, capture_output=True, text=True, check=False)
    assert (done.stdout, done.stderr, done.returncode) == ("ran\n2\n", "", 0)


LOST = """
import os
from fieldsim.report.beside import beside
kill = f"__import__('os')._exit(1) if __import__('os').getpid() != {os.getpid()} else 'done here'"
with beside(eval, kill) as found:
    print(found())
"""


def test_work_whose_process_is_lost_is_done_again():
    done = subprocess.run(
        [sys.executable, "-c", LOST], capture_output=True, text=True, check=False, timeout=60
    )
    assert (done.stdout, done.stderr, done.returncode) == ("done here\n", "", 0)
