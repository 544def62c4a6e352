"""A scenario that comes from elsewhere than a scenario, judged as a scenario is."""

from typing import Any

import msgspec
from msgspec import inspect as mi

from radiosim.scenario.checks import problems_of
from radiosim.scenario.checks.view import Found
from radiosim.scenario.problems import problems
from radiosim.scenario.size import too_much
from radiosim.scenario.structs.output import OutputTable
from radiosim.scenario.structs.scenario import Scenario, SceneFile
from radiosim.scenario.structs.transmitter import TransmitterTable

_SCENARIO = mi.type_info(SceneFile)


def problems_of_scenario(scenario: Scenario) -> tuple[Found, ...]:
    """Every (path, text) of a completed scenario that no scenario could have."""
    file = as_file(scenario)
    found = tuple(problems(_given(msgspec.to_builtins(file)), _SCENARIO)) or problems_of(file)
    if not found and (text := too_much(scenario)):
        return ((("duration_s",), text),)
    return found


def as_file(scenario: Scenario) -> SceneFile:
    """The file that says every key of a scenario; completed, it is the same scenario."""
    return SceneFile(
        **_keys_of(scenario, "name", "assumed", "warnings", "transmitter", "output"),
        transmitter={
            name: TransmitterTable(
                **_keys_of(unit, "layout"),
                layout=unit.layout if unit.payload_bytes is None else None,
            )
            for name, unit in scenario.transmitter.items()
        },
        output={
            name: OutputTable(
                **_keys_of(output, "mix"), mix=output.mix if output.field is None else None
            )
            for name, output in scenario.output.items()
        },
    )


def _keys_of(struct: msgspec.Struct, *without: str) -> dict[str, Any]:
    return {key: getattr(struct, key) for key in struct.__struct_fields__ if key not in without}


def _given(value: Any) -> Any:
    """Plain values as a scenario's text would give them: what is None is left out."""
    if isinstance(value, dict):
        return {key: _given(item) for key, item in value.items() if item is not None}
    return [_given(item) for item in value] if isinstance(value, list | tuple) else value
