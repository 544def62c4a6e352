"""Attacks on the live page by other pages, made in a real browser: none is answered.

Every attacker here knows the token, which is more than one elsewhere can.
"""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from radiosim.live.desk import Desk, Question
from radiosim.live.server import LiveServer
from tests.live.served import SMALL, served
from tests.report.page.browser import CHROMIUM, Browser, browser

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it"),
]

OTHER = "radio.example"
ATTACKS = """
<!DOCTYPE html><meta charset="utf-8"><body><script>
const live = ADDRESS, body = JSON.stringify({ page: "a", set: {} }), got = {};
const kinds = { plain: "text/plain", form: "application/x-www-form-urlencoded",
  json: "application/json" };
async function attack() {
  for (const [name, kind] of Object.entries(kinds)) for (const mode of ["cors", "no-cors"]) {
    const headers = { "Content-Type": kind };
    try {
      const answer = await fetch(`${live}answer`, { method: "POST", mode, headers, body });
      got[`${name} ${mode}`] = (await answer.text()).length;
    } catch (error) { got[`${name} ${mode}`] = 0; }
  }
  try { got.read = (await (await fetch(live)).text()).length; } catch (error) { got.read = 0; }
  for (const [tag, at] of [["script", "live.js"], ["img", "live.css"], ["iframe", ""]]) {
    got[tag] = await new Promise((done) => {
      const made = document.createElement(tag);
      made.onload = () => done(tag === "iframe" ? 0 : 1);
      made.onerror = () => done(0);
      made.src = live + at;
      document.body.append(made);
    });
  }
  got.hello = typeof hello === "undefined" ? 0 : 1;
  const sent = document.createElement("form");
  Object.assign(sent, { method: "post", action: `${live}answer`, enctype: "text/plain" });
  sent.target = "away";
  const away = document.createElement("iframe");
  away.name = "away";
  document.body.append(away, sent);
  await new Promise((done) => { away.onload = done; sent.submit(); });
}
const done = attack().then(() => got);
</script>
"""


class Watched(Desk):
    """A desk that counts what it was asked."""

    asked = 0

    def read(self, asked: Any) -> Question:
        self.asked += 1
        return super().read(asked)


@contextmanager
def attacker(page: str) -> Iterator[str]:
    """Address of another site on this machine, on a port of its own."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(page.encode())

        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - its name there
            """Nothing."""

    # A browser opens connections that it does not use: they must keep nobody waiting.
    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as other:
        other.block_on_close = False
        thread = threading.Thread(target=other.serve_forever, args=(0.01,))
        thread.start()
        yield f"http://127.0.0.1:{other.server_port}/"
        other.shutdown()
        thread.join()


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[tuple[LiveServer, Watched]]:
    path = tmp_path / "small.toml"
    path.write_text(SMALL, encoding="utf-8")
    found = Watched(path, "small.toml")
    with served(found) as server:
        yield server, found


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    folder = tmp_path_factory.mktemp("browser")
    with browser(folder, f"--host-resolver-rules=MAP {OTHER} 127.0.0.1") as found:
        yield found


def test_no_other_page_gets_anything(watched: tuple[LiveServer, Watched], tab: Browser) -> None:
    server, desk = watched
    with attacker(ATTACKS.replace("ADDRESS", json.dumps(server.address))) as there:
        # Another port of the same host, and the same by another name.
        for address in (there, there.replace("127.0.0.1", "localhost")):
            tab.open(address, width=800)
            got = tab.ask("done")
            assert len(got) == 11
            assert set(got.values()) == {0}, got
            # It was the server, or the browser at its word, that refused each frame.
            assert any("frame" in text.lower() for text in tab.complaints), tab.complaints
    assert desk.asked == 0


def test_a_name_that_was_made_to_mean_this_machine_gets_nothing(
    watched: tuple[LiveServer, Watched], tab: Browser
) -> None:
    server, desk = watched
    tab.open(server.address.replace("127.0.0.1", OTHER), width=800)

    assert tab.ask("location.hostname") == OTHER
    assert tab.ask("document.body.innerText").strip() == "refused"
    assert desk.asked == 0
