"""The page's server as a user starts it, for tests."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

GEOMETRIES = Path(__file__).parents[1] / "geometries"


@dataclass
class Served:
    process: subprocess.Popen
    host: str
    port: int
    key: str

    @property
    def address(self):
        return f"http://{self.host}:{self.port}/?key={self.key}"

    def ask(self, method, path, body=None, *, key=True, timeout=60, **headers):
        """Return status, headers and body."""
        connection = http.client.HTTPConnection(self.host, self.port, timeout=timeout)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if key:
            sent["x-fieldsim-key"] = self.key
        raw = json.dumps(body).encode() if isinstance(body, dict) else body
        try:
            connection.request(method, path, raw, sent)
            response = connection.getresponse()
            return response.status, dict(response.getheaders()), response.read()
        finally:
            connection.close()

    def answer(self, text, *, part="light", visitor="visitor one", **more):
        """Return the answer to a machine's text."""
        body = {"text": text, "part": part, "visitor": visitor, **more}
        status, _, raw = self.ask("POST", "/answer", body)
        return status, json.loads(raw)

    def raw(self, sent, timeout=5):
        """Return what comes back for bytes as they are."""
        with socket.create_connection((self.host, self.port), timeout=timeout) as plain:
            plain.sendall(sent)
            got = b""
            try:
                while piece := plain.recv(65536):
                    got += piece
                    if len(got) > 1_000_000:
                        break
            except TimeoutError:
                pass
            return got


@contextmanager
def served(*arguments, geometry="lamp_ring", tree=None):
    """Start the server, or that of another checkout, yield it, and end it by Ctrl-C, quietly."""
    command = [sys.executable, "-m", "fieldsim", "live", "--no-browser", *arguments]
    if geometry:
        command.append(str(GEOMETRIES / f"{geometry}.yaml"))
    place = {"cwd": tree, "env": {**os.environ, "PYTHONPATH": str(tree)}} if tree else {}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **place
    )
    line = process.stdout.readline()
    found = re.match(r"http://([^/]+):(\d+)/\?key=(\S+)", line)
    assert found, line + process.stderr.read()
    try:
        yield Served(process, found[1], int(found[2]), found[3])
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        _, complaints = process.communicate(timeout=20)
        assert complaints == ""
        assert process.returncode == 0
