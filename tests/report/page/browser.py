"""A real browser without a window, spoken to through a pipe by the standard library alone."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
ARGUMENTS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--hide-scrollbars",
    "--no-first-run",
    "--remote-debugging-pipe",
)
END = b"\0"
_HAND_OVER = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(end), fcntl.F_DUPFD, 10) for end in sys.argv[1:3]]
os.dup2(ends[0], 3)
os.dup2(ends[1], 4)
os.execv(sys.argv[3], sys.argv[3:])
"""
"""The browser reads descriptor 3 and writes 4."""


class Browser:
    """One tab: open a page, ask it, take its picture."""

    def __init__(self, to: int, back: int) -> None:
        self._to, self._back, self._buffer, self._count = to, back, b"", 0
        self._session: str | None = None
        self.complaints: list[str] = []
        """What the console or the network had to complain of, since the page was opened."""
        self.fetched: list[str] = []
        """Addresses asked for, since the page was opened."""
        made = self._call("Target.createTarget", url="about:blank")
        attached = self._call("Target.attachToTarget", targetId=made["targetId"], flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self._call(f"{domain}.enable")

    def open(self, page: Path | str, *, width: int, height: int = 800, **media: str) -> None:
        """Load a file, or an address, at a width in CSS pixels.

        `media`: `scheme` light or dark, `kind` print.
        """
        self.complaints, self.fetched = [], []
        self._call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 600,
        )
        scheme = {"name": "prefers-color-scheme", "value": media.get("scheme", "light")}
        self._call("Emulation.setEmulatedMedia", media=media.get("kind", ""), features=[scheme])
        url = page if isinstance(page, str) else page.resolve().as_uri()
        self._call("Page.navigate", url=url)
        while True:
            message = self._next()
            self._note(message)
            if message.get("method") == "Page.loadEventFired":
                return

    def ask(self, expression: str) -> Any:
        """The value of an expression in the page; of a promise, once it is kept."""
        found = self._call(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def press(self, key: str, code: int, *, shift: bool = False) -> None:
        """Press a key, by its name and its number in the event."""
        held = {"key": key, "code": key, "windowsVirtualKeyCode": code, "modifiers": 8 * shift}
        for kind in ("rawKeyDown", "keyUp"):
            self._call("Input.dispatchKeyEvent", type=kind, **held)

    def picture(self, *, is_whole: bool = True) -> str:
        """The whole page as a PNG, in base 64, or what of it is in sight."""
        found = self._call("Page.captureScreenshot", captureBeyondViewport=is_whole)
        return str(found["data"])

    def _call(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": parameters}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + END)
        while True:
            acknowledgement = self._next()
            if acknowledgement.get("id") == self._count:
                assert "error" not in acknowledgement, acknowledgement
                result: dict[str, Any] = acknowledgement["result"]
                return result
            self._note(acknowledgement)

    def _next(self) -> dict[str, Any]:
        while END not in self._buffer:
            part = os.read(self._back, 1 << 16)
            assert part, "the browser is gone"
            self._buffer += part
        message, _, self._buffer = self._buffer.partition(END)
        read: dict[str, Any] = json.loads(message)
        return read

    def _note(self, message: dict[str, Any]) -> None:
        parameters = message.get("params", {})
        match message.get("method"):
            case "Log.entryAdded":
                self.complaints.append(parameters["entry"]["text"])
            case "Runtime.exceptionThrown" | "Runtime.consoleAPICalled":
                self.complaints.append(json.dumps(parameters))
            case "Network.requestWillBeSent":
                self.fetched.append(parameters["request"]["url"])


@contextmanager
def browser(folder: Path, *more: str) -> Iterator[Browser]:
    """A browser whose profile lies in a folder; it ends with the block. `more`: arguments."""
    assert CHROMIUM is not None
    mine_in, its_out = os.pipe()
    its_in, mine_out = os.pipe()
    command = [sys.executable, "-c", _HAND_OVER, str(its_in), str(its_out), CHROMIUM]
    process = subprocess.Popen(
        [*command, *ARGUMENTS, *more, f"--user-data-dir={folder}"],
        pass_fds=(its_in, its_out),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(its_in)
    os.close(its_out)
    try:
        yield Browser(mine_out, mine_in)
    finally:
        _end(process, mine_out)
        os.close(mine_in)
        os.close(mine_out)


def _end(process: subprocess.Popen[bytes], to: int) -> None:
    """Let it end by itself: processes of one that is killed write into its profile for a while."""
    try:
        os.write(to, b'{"id": 0, "method": "Browser.close"}' + END)
        process.wait(timeout=20)
    except (OSError, subprocess.TimeoutExpired):
        process.kill()
        process.wait()
