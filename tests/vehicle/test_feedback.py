"""All that is simulated above the vehicle knows what the vehicle does to its own receiver."""

import ast
from pathlib import Path

import radiosim
from radiosim.scenario import parse
from radiosim.vehicle.feedback import brownouts_of

PACKAGE = Path(radiosim.__file__).parent
ALLOWED = {"vehicle/feedback.py", "study/rare/_climbs.py"}
"""Rare trips are not looked for where outputs could bring the receiver down."""


def asks_an_engine_alone(path: Path) -> bool:
    text = path.read_text(encoding="utf-8")
    return "engine.simulate" in text and any(
        isinstance(node, ast.ImportFrom)
        and node.module == "radiosim.engine.simulate"
        and {name.name for name in node.names} & {"flow", "simulate", "run_plan"}
        for node in ast.walk(ast.parse(text))
    )


def test_nothing_simulates_by_an_engine_alone() -> None:
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if asks_an_engine_alone(path)
    }

    assert found == ALLOWED


def test_no_plan_of_a_trace_leaves_its_dips_out() -> None:
    texts = {path: path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")}

    assert [p for p, text in texts.items() if "make_plan(trace.scenario" in text] == [
        PACKAGE / "engine" / "plan.py"
    ]


LAMP = """
duration_s = 4
radio.profile = "gfsk-1M"
air.loss = 0
receiver.read = "all"
receiver.boot_s = 0
receiver.supply = { voltage_v = 5, resistance_mohm = 900, brownout_v = 4.4 }
layout.one.fields = [{ name = "pull", type = "u8" }]
output.lamp = { stream = "drive", field = "pull", kind = "pin", load = { moving_ma = 700 } }
[transmitter.drive]
boot_s = 0
period_ms = 20
layout = "one"
signals.pull = { kind = "steps", values = [0, 255], hold_s = 1.5 }
"""


def test_a_dip_in_the_last_moments_of_a_run_is_found_too() -> None:
    first = brownouts_of(parse(LAMP), 1, "fast")[0]

    # A few frames later it is over.
    short = parse(LAMP, overrides=[f"duration_s={first.at_ns / 1e9 + 0.003}"])
    assert [one.at_ns for one in brownouts_of(short, 1, "fast")] == [first.at_ns]
