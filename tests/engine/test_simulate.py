"""Which engine serves, with llvmlite and without."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from radiosim.engine.simulate import choose, simulate
from radiosim.errors import TraceError
from radiosim.scenario import parse
from radiosim.trace import ROWS
from radiosim.vehicle import feedback
from tests.engines.without_llvm import tallies_by_name
from tests.traces import scenario_with

ROOT = Path(__file__).parents[2]
SCENARIO = """
duration_s = 2
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6 }
"""

MISSING = "import sys\nsys.modules['llvmlite'] = None\n"
FAILING = """
import sys

class Failing:
    def find_spec(self, name, path=None, target=None):
        if name == "llvmlite":
            raise OSError("a library of its own cannot be loaded")

sys.meta_path.insert(0, Failing())
"""
BROKEN = {"missing": MISSING, "broken": FAILING}
SAYS = {"missing": "llvmlite is not installed", "broken": "LLVM cannot be used here"}


def python(program: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=os.environ | environment,
    )


def test_auto_is_the_compiled_engine() -> None:
    assert choose("auto").engine == "fast"
    assert simulate(parse(SCENARIO)).engine == "fast"


def test_the_reference_serves_when_asked_for() -> None:
    assert choose("reference").engine == "reference"
    assert simulate(parse(SCENARIO), engine="reference").engine == "reference"


def test_an_unknown_engine_is_refused() -> None:
    with pytest.raises(ValueError, match="must be one of auto, reference, fast, got 'slow'"):
        simulate(parse(SCENARIO), engine="slow")  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.parametrize(("how", "wish"), list(zip(BROKEN, ("auto", "fast"), strict=True)))
def test_without_a_working_llvmlite_the_reference_serves_and_says_so(
    how: str, wish: str, tmp_path: Path
) -> None:
    given = tmp_path / "tiny.toml"
    given.write_text(SCENARIO + "starts = 1\n", encoding="utf-8")
    arguments = ["radiosim", "run", str(given), "--engine", wish]
    typed = f"sys.argv = {arguments!r}\nfrom radiosim.cli.main import main\nsys.exit(main())\n"

    done = python(BROKEN[how] + typed)

    assert done.returncode == 0, done.stderr
    assert SAYS[how] in done.stderr
    assert "the reference engine serves" in done.stderr
    assert "reference engine" in done.stdout


@pytest.mark.slow
def test_ten_scenarios_give_the_same_to_the_last_bit_without_llvm() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.engines.without_llvm"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )

    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert len(found) == 10
    assert found == tallies_by_name()


def test_nothing_compiles_or_loads_a_compiler_on_import() -> None:
    program = "import sys, radiosim; radiosim.load; print('llvmlite' in sys.modules)"

    assert python(program).stdout.strip() == "False"


def test_a_start_that_is_too_long_to_be_kept_says_how_long_one_may_be() -> None:
    scenario = scenario_with("duration_s=20")
    rows = sum(getattr(feedback.simulate(scenario), name).nbytes for name in ROWS)

    with pytest.raises(TraceError, match=r"shorten it, as with --duration-s \d") as caught:
        feedback.simulate(scenario, most_bytes=rows // 2)
    shorter = scenario_with(f"duration_s={float(str(caught.value).split()[-1]):g}")

    assert feedback.simulate(shorter, most_bytes=rows // 2 + 1).duration_ns > 0
    assert (
        feedback.simulate(scenario, most_bytes=rows).duration_ns
        == feedback.simulate(scenario).duration_ns
    )
