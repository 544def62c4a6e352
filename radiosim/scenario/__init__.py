"""The scenario file: structs, reading with every problem at once, overrides, completion, schema."""

from radiosim.scenario.read import load, parse
from radiosim.scenario.schema import json_schema
from radiosim.scenario.structs.scenario_file import Scenario

__all__ = ["Scenario", "json_schema", "load", "parse"]
