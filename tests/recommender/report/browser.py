"""A headless Chromium over its DevTools pipe: opened on a file, resized, asked, printed."""

from __future__ import annotations

import base64
import json
import os
import re
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

SWITCHES = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-quic", "--disable-dev-shm-usage", "--disable-extensions",
    "--host-resolver-rules=MAP * ~NOTFOUND", "--remote-debugging-pipe",
)  # fmt: skip

AS_THREE_AND_FOUR = """
import fcntl, os, sys
read, write = (fcntl.fcntl(int(number), fcntl.F_DUPFD, 10) for number in sys.argv[1:3])
os.dup2(read, 3), os.dup2(write, 4)
os.execv(sys.argv[3], sys.argv[3:])
"""
"""The browser wants its pipe as descriptors 3 and 4; they are copied out of the way first."""

SECONDS = 60.0


class Browser:
    """One page of a browser, with what it logged and what it asked for."""

    def __init__(self, read: int, write: int) -> None:
        self._read, self._write = read, write
        self._left = b""
        self._number = 0
        self._session = ""
        self.logged: list[str] = []
        self.requested: list[str] = []

    def open_page(self) -> None:
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.send("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.send(f"{domain}.enable")

    def send(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send a command and give its result."""
        self._number += 1
        number = self._number
        command = {"id": number, "method": method, "params": parameters}
        session = {"sessionId": self._session} if self._session else {}
        os.write(self._write, json.dumps({**command, **session}).encode() + b"\0")
        return self._until(lambda message: message.get("id") == number)

    def _until(self, wanted: Any) -> dict[str, Any]:
        end = time.monotonic() + SECONDS
        while True:
            while b"\0" not in self._left:
                ready, _, _ = select.select([self._read], [], [], max(0.0, end - time.monotonic()))
                assert ready, "the browser does not answer"
                more = os.read(self._read, 1 << 20)
                assert more, "the browser has ended"
                self._left += more
            first, _, self._left = self._left.partition(b"\0")
            message = json.loads(first)
            assert "error" not in message, message
            self._note(message)
            if wanted(message):
                result: dict[str, Any] = message.get("result", {})
                return result

    def _note(self, message: dict[str, Any]) -> None:
        method, about = message.get("method"), message.get("params", {})
        if method == "Network.requestWillBeSent":
            self.requested.append(about["request"]["url"])
        elif method == "Log.entryAdded":
            self.logged.append(about["entry"]["text"])
        elif method == "Runtime.consoleAPICalled":
            self.logged.append(str(about["args"]))
        elif method == "Runtime.exceptionThrown":
            self.logged.append(str(about["exceptionDetails"]))

    def go(self, path: Path, width: int = 1280, height: int = 900, dark: bool = False) -> None:
        """Open a file on a screen of this size, in the light or in the dark."""
        self.logged.clear()
        self.requested.clear()
        self.send("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.send("Emulation.setEmulatedMedia", media="", features=[scheme])
        self.send("Page.navigate", url=path.as_uri())
        self._until(lambda message: message.get("method") == "Page.loadEventFired")

    def ask(self, expression: str) -> Any:
        """The value of a JavaScript expression in the page."""
        result = self.send("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in result, result
        return result["result"].get("value")

    def press(self, key: str) -> None:
        """Press a key on the keyboard."""
        code = {"Enter": 13, "Tab": 9}[key]
        about = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        text = {"text": "\r"} if key == "Enter" else {}
        self.send("Input.dispatchKeyEvent", type="keyDown", **about, **text)
        self.send("Input.dispatchKeyEvent", type="keyUp", **about)

    def pdf(self) -> bytes:
        """The page as it prints, by its own page size."""
        return base64.b64decode(self.send("Page.printToPDF", preferCSSPageSize=True, printBackground=False)["data"])

    def picture(self) -> bytes:
        """The whole page as PNG."""
        found = self.send("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        return base64.b64decode(found["data"])


def pages_of(pdf: bytes) -> int:
    """The number of pages of a PDF as Chromium writes them."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@contextmanager
def chromium(folder: Path) -> Iterator[Browser]:
    """Give a browser that ends with the block; its profile goes into `folder`."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert program, "these tests need Chromium: apt-get install chromium"
    theirs_in, ours_out = os.pipe()
    ours_in, theirs_out = os.pipe()
    command = [program, *SWITCHES, f"--user-data-dir={folder / 'profile'}"]
    shim = [sys.executable, "-c", AS_THREE_AND_FOUR, str(theirs_in), str(theirs_out), *command]
    process = subprocess.Popen(
        shim, pass_fds=(theirs_in, theirs_out), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    os.close(theirs_in)
    os.close(theirs_out)
    try:
        made = Browser(ours_in, ours_out)
        made.open_page()
        yield made
    finally:
        process.kill()
        process.wait()
        os.close(ours_in)
        os.close(ours_out)
