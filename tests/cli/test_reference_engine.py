"""With `--engine reference` no command loads a compiler, whatever it simulates."""

import subprocess
import sys
from pathlib import Path

import pytest

SCENARIO = """
duration_s = 0.5
starts = 2
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, layout = "plain" }
layout.plain.fields = [{ name = "speed", type = "i8", scale = 0.01, min = -1.0, max = 1.0 }]
layout.wide.fields = [{ name = "speed", type = "i16", scale = 0.01, min = -1.0, max = 1.0 }]
failsafe.drive = { timeout_ms = 100 }
air.loss = 0.1
[air.range]
distance_m = 10
[output.motor]
stream = "drive"
field = "speed"
on_failsafe = { preset_us = 1500 }
"""
COMMANDS = (
    "run one.toml --rare",
    "run one.toml --start 1 --trace start.npz",
    "tune one.toml --vary transmitter.drive.period_ms=20,25",
    "failsafe one.toml --repeats 1 --hours 0.001 --skip reset --skip hang --skip radio_reset "
    "--skip stale --skip out_of_range --skip jam --skip brownout",
    "range one.toml --points 2",
    "bench-test one.toml --starts 3 --minutes 0.05",
    "layout compare one.toml:plain one.toml:wide --scenario one.toml",
)
PROGRAM = """
import sys
from tests.cli.typed import typed
for command in sys.argv[1:]:
    done = typed(*command.split(), "--engine", "reference", "--workers", "1")
    print(command, done.code in (0, 1), done.err, "llvmlite" in sys.modules, sep="|")
done = typed("run", "start.npz")
print("saved trace", done.code in (0, 1), done.err, "llvmlite" in sys.modules, sep="|")
"""


@pytest.mark.slow
def test_no_command_loads_a_compiler_for_the_reference_engine(tmp_path: Path) -> None:
    (tmp_path / "one.toml").write_text(SCENARIO, encoding="utf-8")
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            f"import sys\nsys.path.insert(0, {str(root)!r})\n{PROGRAM}",
            *COMMANDS,
        ],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )

    assert done.stdout.splitlines() == [
        f"{command}|True||False" for command in (*COMMANDS, "saved trace")
    ]
