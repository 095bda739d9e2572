"""Headless Chromium over its debugging pipe: no packages, no port."""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any


class Browser:
    """One browser with one page. Notes every request and every message of the console."""

    def __init__(self, profile: Path) -> None:
        name = next((n for n in ("chromium", "chromium-browser", "google-chrome") if shutil.which(n)), None)
        if name is None:
            raise RuntimeError("no chromium: apt-get install chromium")
        to_child, from_child = os.pipe(), os.pipe()
        reads, writes = to_child[0], from_child[1]
        os.set_inheritable(reads, True)
        os.set_inheritable(writes, True)
        # The browser wants its pipe as 3 and 4.
        command = [
            "bash", "-c", f'exec "$@" 3<&{reads} 4>&{writes}', "browser", name, "--headless=new", "--remote-debugging-pipe", "--no-sandbox",
            "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-dev-shm-usage", f"--user-data-dir={profile}", "about:blank",
        ]  # fmt: skip
        self.process = subprocess.Popen(command, pass_fds=(reads, writes), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(reads)
        os.close(writes)
        self.into, self.out = to_child[1], from_child[0]
        self.buffer = b""
        self.next = 0
        self.requests: list[str] = []
        self.console: list[str] = []
        target = self.send("Target.createTarget", {"url": "about:blank"}, session=None)["targetId"]
        self.session = self.send("Target.attachToTarget", {"targetId": target, "flatten": True}, session=None)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.send(f"{domain}.enable")

    def close(self) -> None:
        self.process.terminate()
        self.process.wait(20)
        os.close(self.into)
        os.close(self.out)

    def _receive(self, until: float) -> dict[str, Any]:
        while b"\0" not in self.buffer:
            ready, _, _ = select.select([self.out], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                raise TimeoutError("the browser does not answer")
            data = os.read(self.out, 1 << 20)
            if not data:
                raise RuntimeError("the browser has ended")
            self.buffer += data
        message, _, self.buffer = self.buffer.partition(b"\0")
        found: dict[str, Any] = json.loads(message)
        method, given = found.get("method"), found.get("params", {})
        if method == "Network.requestWillBeSent":
            self.requests.append(given["request"]["url"])
        elif method == "Runtime.consoleAPICalled":
            self.console.append(str([a.get("value", a.get("description")) for a in given["args"]]))
        elif method == "Runtime.exceptionThrown":
            self.console.append(str(given["exceptionDetails"]))
        elif method == "Log.entryAdded":
            self.console.append(given["entry"]["text"])
        return found

    def send(self, method: str, params: dict[str, Any] | None = None, *, session: str | None = "own", seconds: float = 120.0) -> Any:
        self.next += 1
        message: dict[str, Any] = {"id": self.next, "method": method, "params": params or {}}
        if session is not None:
            message["sessionId"] = self.session
        self._write_all(message)
        until = time.monotonic() + seconds
        while True:
            found = self._receive(until)
            if found.get("id") == self.next:
                if "error" in found:
                    raise RuntimeError(f"{method}: {found['error']}")
                return found["result"]

    def _write_all(self, message: dict[str, Any]) -> None:
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self.into, data) :]

    def evaluate(self, script: str, seconds: float = 120.0) -> Any:
        """The value of an expression; a promise is waited for."""
        found = self.send("Runtime.evaluate", {"expression": script, "awaitPromise": True, "returnByValue": True}, seconds=seconds)
        if "exceptionDetails" in found:
            raise RuntimeError(str(found["exceptionDetails"].get("exception", {}).get("description", found["exceptionDetails"])))
        return found["result"].get("value")

    def open(self, url: str, until: str) -> None:
        """Opens a page and waits until an expression of it is true."""
        self.send("Page.navigate", {"url": "about:blank"})
        self.requests.clear()
        self.console.clear()
        self.send("Page.navigate", {"url": url})
        self.wait(until)

    def wait(self, until: str, seconds: float = 120.0) -> None:
        end = time.monotonic() + seconds
        # A page that is on its way there has no such names yet.
        asked = f"(() => {{ try {{ return Boolean({until}); }} catch {{ return false; }} }})()"
        while not self.evaluate(asked):
            if time.monotonic() > end:
                raise TimeoutError(f"{until} is not true; console: {self.console}; page: {self.evaluate('document.body.innerText')}")
            time.sleep(0.02)

    def size(self, width: int, height: int) -> None:
        self.send("Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600})

    def picture(self, file: Path, *, whole: bool = True) -> None:
        found = self.send("Page.captureScreenshot", {"format": "png", "captureBeyondViewport": whole})
        file.write_bytes(base64.b64decode(found["data"]))

    def pdf(self) -> bytes:
        """The page as it would be printed."""
        return base64.b64decode(self.send("Page.printToPDF", {"printBackground": True, "paperWidth": 8.27, "paperHeight": 11.69})["data"])
