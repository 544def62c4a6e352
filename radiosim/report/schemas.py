"""The JSON that commands write, as JSON Schemas: one row a command."""

from typing import Any

from radiosim.measure.summary import RunResults
from radiosim.report.channels import ChannelsData
from radiosim.results.data import schema
from radiosim.study.drill import Drilled
from radiosim.study.range import Reach
from radiosim.study.tune.tune_results import Tuned

RESULTS: dict[str, Any] = {
    "run": RunResults,
    "failsafe": Drilled,
    "tune": Tuned,
    "range": Reach,
    "channels": ChannelsData,
}
"""Command → type of what its `--json` writes."""


def result_schemas() -> dict[str, dict[str, Any]]:
    """Command → JSON Schema of what its `--json` writes."""
    return {command: schema(kind) for command, kind in RESULTS.items()}
