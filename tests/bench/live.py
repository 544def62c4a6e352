"""How fast the live page is: `python -m tests.bench.live`.

Not a test: nothing here passes or fails. A look is the first start of a scenario, simulated and
worked out to a line of JSON; it is made in this process, and asked of a server over its socket.
"""

import http.client
import json
import os
import resource
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from radiosim.live.desk import Desk
from radiosim.live.hall import Single
from radiosim.live.server import LiveServer
from radiosim.report.live.answer import encoded, foretold, summary_of, told
from radiosim.scenario import parse
from radiosim.scenario.shipped import scenario_path
from radiosim.study.live.looks import looks
from tests.report.page.browser import CHROMIUM, browser

SCENARIOS = ("culvert-crawler", "twin-clocks")
MOVES = 100
POLL_S = 0.5
IDLE_S = 10.0


def first_look(desk: Desk, lines: tuple[str, ...]) -> bytes:
    """What stands on the page first, made in this process."""
    scenario = parse(desk.text, overrides=lines)
    foretold(scenario)
    look = next(looks(scenario, lambda: False))
    return encoded(told(scenario, look, summary_of(scenario, look)))


def asked(server: LiveServer, key: str, value: float) -> float:
    """Seconds from a question to the first look on the socket; the rest is not waited for."""
    host = f"127.0.0.1:{server.server_port}"
    headers = {"Origin": f"http://{host}", "Content-Type": "application/json"}
    body = json.dumps({"page": "a", "set": {key: value}})
    connection = http.client.HTTPConnection(host)
    began = time.perf_counter()
    connection.request("POST", f"/{server.door.token}/answer", body, headers)
    answer = connection.getresponse()
    answer.readline()
    look = json.loads(answer.readline())
    passed = time.perf_counter() - began
    assert look["kind"] == "look", look
    connection.close()
    return passed


BROWSER_MOVES = """(async (key, moves) => {
  const it = hello.controls.find((one) => one.key === key), taken = [];
  for (const value of moves) {
    performance.clearMeasures();
    put(it, value);
    ask();
    while (!performance.getEntriesByName("first answer").length) {
      await new Promise((go) => setTimeout(go, 5));
    }
    taken.push(performance.getEntriesByName("first answer")[0].duration);
  }
  return taken;
})"""
"""Milliseconds from each move of a control to its first drawn answer; the next comes at once."""


def drawn(server: LiveServer, key: str, moves: list[float]) -> list[float]:
    """Seconds from a move to its first drawn answer in a browser; empty without one."""
    if CHROMIUM is None:
        return []
    with tempfile.TemporaryDirectory() as profile, browser(Path(profile)) as tab:
        tab.open(server.address, width=1280)
        ms = tab.ask(f"{BROWSER_MOVES}({json.dumps(key)}, {json.dumps(moves)})")
    return [each / 1e3 for each in ms]


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Seconds of one call by the clock and of processor time."""
    wall, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - processor


def measure(name: str) -> None:
    """Print what one scenario takes."""
    path = scenario_path(name)
    desk = Desk(path, name, is_own=False)
    control = next(one for one in desk.controls if one.key.endswith("period_ms"))
    # Never the same twice: an answer that is kept would be no answer.
    moves = [control.now + (k + 1) / 1000 for k in range(MOVES)]
    with LiveServer(Single(desk)) as server:
        threading.Thread(target=server.serve_forever, args=(POLL_S,), daemon=True).start()
        first_look(desk, ())
        asked(server, control.key, control.now)
        there, here, cpu = [], [], []
        for value in moves:
            there.append(asked(server, control.key, value))
            wall, processor = timed(lambda v=value: first_look(desk, (f"{control.key}={v}",)))
            here.append(wall)
            cpu.append(processor)
        seen = drawn(server, control.key, [value + 0.0005 for value in moves])
        time.sleep(1.0)
        before = time.process_time()
        time.sleep(IDLE_S)
        idle = (time.process_time() - before) / IDLE_S
        most_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        server.shutdown()
    p95 = sorted(there)[int(0.95 * MOVES)]
    ratio = statistics.median(there) / statistics.median(here)
    print(
        f"{name}: {1e3 * statistics.median(there):.0f} ms median, {1e3 * p95:.0f} ms p95 from "
        f"question to first look over {MOVES} moves; the look alone "
        f"{1e3 * statistics.median(cpu):.0f} ms of processor time; ratio of the medians by the "
        f"clock {ratio:.2f}; idle {100 * idle:.3f} % of a core; {most_kb // 1024} MB at most"
    )
    if seen:
        p95 = sorted(seen)[int(0.95 * MOVES)]
        print(
            f"  in a browser: {1e3 * statistics.median(seen):.0f} ms median, {1e3 * p95:.0f} ms "
            "p95 from slider to first drawn answer"
        )


if __name__ == "__main__":
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    for each in SCENARIOS:
        measure(each)
