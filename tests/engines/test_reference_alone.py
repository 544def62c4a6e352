"""The reference engine serves without a compiler: nothing that it takes loads one."""

import subprocess
import sys

import pytest

SCENARIO = """
duration_s = 0.5
starts = 2
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, layout = "plain" }
layout.plain.fields = [{ name = "speed", type = "i8", scale = 0.01, min = -1.0, max = 1.0 }]
failsafe.drive = { timeout_ms = 100 }
air.loss = 0.1
[air.range]
distance_m = 10
[output.motor]
stream = "drive"
field = "speed"
on_failsafe = { preset_us = 1500 }
"""
PREPARED = f"""
import sys
from radiosim.scenario import parse
scenario = parse({SCENARIO!r})
"""
STUDIES = {
    "run": """
from radiosim.findings import find
from radiosim.study.starts import simulate_starts
summary = simulate_starts(scenario, engine="reference", workers=1)
find(scenario, summary, "reference")
""",
    "rare": """
from radiosim.study.rare import with_rare
from radiosim.study.starts import simulate_starts
summary = simulate_starts(scenario, engine="reference", workers=1)
with_rare(scenario, summary, engine="reference", workers=1)
""",
    "trace": """
from radiosim.engine.simulate import simulate
from radiosim.measure import summarise
from radiosim.vehicle.vehicle import run_vehicle
trace = simulate(scenario, engine="reference")
summarise(trace)
run_vehicle(trace)
""",
    "tune": """
from radiosim.study.tune.tuned import confirmed, tuned
from radiosim.study.tune.varied import chosen
settings, points = chosen(scenario, ("transmitter.drive.period_ms=20,25",), None)
found = tuned(scenario, settings, points, engine="reference", workers=1)
confirmed(found, scenario, engine="reference", workers=1)
""",
    "failsafe": """
from radiosim.study.drill import DrillOptions, drill_failsafe
skip = ("reset", "hang", "radio_reset", "stale", "out_of_range", "jam", "brownout")
options = DrillOptions(repeats=1, skip=skip, hours=0.001, engine="reference", workers=1)
drill_failsafe(scenario, options)
""",
    "range": """
from radiosim.study.range import distances_of, reach
reach(scenario, distances_of(scenario, 2), engine="reference", workers=1)
""",
    "bench-test": """
from radiosim.study.bench import bench_test_sheet
bench_test_sheet(scenario, starts=3, minutes=0.05, engine="reference", workers=1)
""",
    "layout change": """
from radiosim.study.layout_change import layout_change
layout_change(scenario, scenario, ("drive",), engine="reference", workers=1)
""",
}


@pytest.mark.parametrize("study", STUDIES)
def test_no_study_loads_a_compiler_for_the_reference_engine(study: str) -> None:
    program = f"{PREPARED}{STUDIES[study]}\nprint('numba' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )

    assert (done.stdout, done.stderr) == ("False\n", "")
