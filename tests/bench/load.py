"""Memory and time of what is asked of it at most: `python -m tests.bench.load [NAME …]`.

Not a test: nothing here passes or fails. Each is a command of its own; printed are its time, the
most memory that it and its processes held at once, and what it said before the work started.
What would take hours is ended after some minutes, by when its memory no longer grows.
"""

import os
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
HOUR_S, MINUTES_S, LOOK_S = 3_600, 180, 0.2
UNITS = "abcdef"
SIX = f"""
duration_s = {HOUR_S}
radio.profile = "gfsk-2M"
air.loss = 0.01
receiver.read = "all"
receiver.loop_ms = 0.5
""" + "".join(
    f"transmitter.{name} = {{ period_ms = 1, payload_bytes = 4, acknowledge = false, "
    f"clock_ppm = {3 * number} }}\n"
    for number, name in enumerate(UNITS)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A command, and how long it may take; None: until it is done."""

    words: str
    most_s: float | None = None


LOADS = {
    "six transmitters at 1 kHz for an hour": Load(words="run six.toml --start 0 --json out.json"),
    "the same in four starts": Load(words="run six.toml --starts 4 --workers 2 --json out.json"),
    "a page of 1,000 starts": Load(words="run twin-clocks --starts 1000 --page page.html"),
    "a trace of an hour": Load(
        words=f"run twin-clocks --start 0 --duration-s {HOUR_S} --trace trace.npz"
    ),
    "100,000 points": Load(
        words="tune twin-clocks --vary transmitter.drive.period_ms=10:1009.99:0.01 --json out.json",
        most_s=MINUTES_S,
    ),
}


def main(names: list[str]) -> None:
    """Try those whose names begin like one of these; all without any."""
    for name, load in LOADS.items():
        if not names or name.startswith(tuple(names)):
            with tempfile.TemporaryDirectory() as folder:
                print(f"{name}: {_tried(load, Path(folder))}", flush=True)


def _tried(load: Load, folder: Path) -> str:
    (folder / "six.toml").write_text(SIX, encoding="utf-8")
    began_s, before = time.monotonic(), os.times()
    with (folder / "said").open("w+b") as said:
        running = subprocess.Popen(
            [sys.executable, "-m", "radiosim", *load.words.split()],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.DEVNULL,
            stderr=said,
            start_new_session=True,
        )
        most, first_half = 0, 0
        while running.poll() is None:
            took_s = time.monotonic() - began_s
            most = max(most, _held(running.pid))
            if load.most_s is not None and took_s < load.most_s / 2:
                first_half = most
            if load.most_s is not None and took_s > load.most_s:
                running.send_signal(signal.SIGTERM)
                running.wait()
            time.sleep(LOOK_S)
        took_s, after = time.monotonic() - began_s, os.times()
        said.seek(0)
        lines = said.read().decode().splitlines()
    worked_s = after.children_user + after.children_system
    worked_s -= before.children_user + before.children_system
    grown = "" if load.most_s is None else f" ({first_half / 1e6:,.0f} MB in the first half)"
    written = {
        path.name: f"{path.stat().st_size / 1e6:,.1f} MB"
        for path in sorted(folder.iterdir())
        if path.name not in ("six.toml", "said")
    }
    return (
        f"code {running.returncode}, {took_s:,.0f} s, {worked_s:,.0f} s of processors, "
        f"{most / 1e6:,.0f} MB{grown}, wrote {written or 'nothing'}, said {lines}"
    )


def _held(session: int) -> int:
    """Bytes that processes of a session hold, those that they share counted for each a part."""
    held = 0
    for place in Path("/proc").glob("[0-9]*"):
        try:
            fields = (place / "stat").read_text().rpartition(")")[2].split()
            if int(fields[3]) == session:
                rollup = (place / "smaps_rollup").read_text()
                held += 1024 * int(rollup.partition("Pss:")[2].split()[0])
        except (OSError, IndexError):
            continue
    return held


if __name__ == "__main__":
    main(sys.argv[1:])
