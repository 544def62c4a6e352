"""The JSON that commands write, as JSON Schemas: one row a command."""

from typing import Any

from radiosim.measure.summary import RunResults
from radiosim.report.channels import ChannelsData
from radiosim.results.data import schema
from radiosim.study.range import Reach

RESULTS: dict[str, Any] = {"run": RunResults, "range": Reach, "channels": ChannelsData}
"""Command → type of what its `--json` writes."""


def result_schemas() -> dict[str, dict[str, Any]]:
    """Command → JSON Schema of what its `--json` writes."""
    return {command: schema(kind) for command, kind in RESULTS.items()}
