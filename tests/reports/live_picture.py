"""The picture of the live page with which README.md opens: a slider moved off a beat.

A browser draws it, so that its bytes depend on the browser and its letters; where there is none,
the picture stays as it is.
"""

import base64
import tempfile
import threading
from pathlib import Path

from radiosim.live.desk import Desk
from radiosim.live.hall import Single
from radiosim.live.server import LiveServer
from radiosim.scenario.shipped import scenario_path
from tests.report.page.browser import CHROMIUM, browser

SCENARIO, SETTING = "twin-clocks", "transmitter.head.period_ms=23"
WIDTH, HEIGHT = 1280, 1120
SETTLED = """new Promise((settle) => {
  let left = 6000;
  const look = () => document.body.dataset.state === "done" && document.querySelector(".compared")
    || !left-- ? settle(left > 0) : setTimeout(look, 20);
  look();
})"""
"""Whether the whole answer stands beside what was."""


def live_png() -> bytes | None:
    """The picture; None without a browser."""
    if CHROMIUM is None:
        return None
    desk = Desk(scenario_path(SCENARIO), SCENARIO, is_own=False)
    with (
        LiveServer(Single(desk)) as server,
        tempfile.TemporaryDirectory() as profile,
        browser(Path(profile)) as tab,
    ):
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        try:
            tab.open(f"{server.address}#{SETTING}", width=WIDTH, height=HEIGHT)
            assert tab.ask(SETTLED), "the page did not answer"
            return base64.b64decode(tab.picture(is_whole=False))
        finally:
            server.shutdown()
            thread.join()
