"""All that is simulated above the vehicle knows what the vehicle does to its own receiver."""

import ast
from pathlib import Path

import radiosim

PACKAGE = Path(radiosim.__file__).parent
ALLOWED = {"vehicle/feedback.py", "study/rare/_climbs.py"}
"""Rare trips are not looked for where outputs could bring the receiver down."""


def asks_an_engine_alone(path: Path) -> bool:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return any(
        isinstance(node, ast.ImportFrom)
        and node.module == "radiosim.engine.simulate"
        and {name.name for name in node.names} & {"flow", "simulate", "run_plan"}
        for node in ast.walk(tree)
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
