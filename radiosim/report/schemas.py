"""What `validate` has found, and the JSON that commands write, as JSON Schemas."""

from dataclasses import dataclass
from typing import Any

from radiosim.firmware.results import ProgramResults
from radiosim.measure.summary import RunResults
from radiosim.report.channels import ChannelsData
from radiosim.report.layout_check import LayoutChecksData
from radiosim.report.layout_compare_data import LayoutCompareData
from radiosim.report.layouts import LayoutData
from radiosim.results.data import schema
from radiosim.study.bench.step import BenchTestSheet
from radiosim.study.drill.results import Drilled
from radiosim.study.fit.fit import Fit
from radiosim.study.range import Reach
from radiosim.study.tune.tune_results import Tuned


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedScenario:
    """What reading one scenario has shown; the names are those of `--json`."""

    source: str
    ok: bool
    problems: tuple[str, ...] = ()
    unbounded: tuple[str, ...] = ()
    """Outputs whose failsafe may never come when their transmitter goes silent, each with why."""
    warnings: tuple[str, ...] = ()
    retries: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What reading each scenario has shown."""

    scenarios: tuple[CheckedScenario, ...]


RESULTS: dict[str, Any] = {
    "run": RunResults,
    "failsafe": Drilled,
    "tune": Tuned,
    "range": Reach,
    "channels": ChannelsData,
    "bench-test": BenchTestSheet,
    "firmware": ProgramResults,
    "fit": Fit,
    "layout show": LayoutData,
    "layout check": LayoutChecksData,
    "layout compare": LayoutCompareData,
    "validate": Checked,
}
"""Command → type of what its `--json` writes."""


def result_schemas() -> dict[str, dict[str, Any]]:
    """Command → JSON Schema of what its `--json` writes."""
    return {command: schema(kind) for command, kind in RESULTS.items()}
