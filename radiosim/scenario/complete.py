"""Fills in what a scenario left out, so that a run needs nothing but the scenario."""

from collections.abc import Iterator, Mapping
from typing import Any, Literal

import msgspec

from radiosim.layout import Field, Layout
from radiosim.scenario.assumed import assumed
from radiosim.scenario.cautions import cautions
from radiosim.scenario.checks.link_checks import addresses_of, pipes_of
from radiosim.scenario.checks.output_checks import WIDEST, range_of, weights
from radiosim.scenario.checks.view import View, output_names, plain_name, view_of
from radiosim.scenario.danger import MOTOR_NAMES
from radiosim.scenario.structs.air_tables import Air
from radiosim.scenario.structs.output_table import Output, OutputTable, Preset
from radiosim.scenario.structs.range_tables import Range
from radiosim.scenario.structs.scenario_file import Scenario, ScenarioFile
from radiosim.scenario.structs.transmitter_table import Transmitter
from radiosim.signals import Constant, Counter, Signal

NEUTRAL_PULSE_US = 1500.0
_NEARLY = 0.02
"""Whole numbers go one step further down than up."""
"""Middle of the usual pulses (facts 9: common practice)."""
_UNKNOWN_RANGE = (-1.0, 1.0)


def completed(file: ScenarioFile, document: Mapping[str, Any], name: str) -> Scenario:
    """The scenario of a sound scenario file.

    `document` is the decoded text: it tells what was given from what has its default. Only a file
    without problems (`checks.problems_of`) can be completed.
    """
    view = view_of(file)
    same = {
        key: getattr(file, key)
        for key in ScenarioFile.__struct_fields__
        if key not in ("transmitter", "output", "air")
    }
    scenario = Scenario(
        **same,
        name=name,
        transmitter=_transmitters(view),
        output=_outputs(view),
        air=_air(file),
    )
    return msgspec.structs.replace(
        scenario,
        assumed=assumed(file, scenario, document),
        warnings=cautions(file, scenario),
        given=tuple(sorted(given_in(document))),
    )


def given_in(value: Any, path: str = "") -> Iterator[str]:
    """The path of each key that a document gives, as `--set` takes them; a list of numbers is one
    value."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from given_in(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and any(isinstance(item, Mapping) for item in value):
        for number, item in enumerate(value):
            yield from given_in(item, f"{path}[{number}]")
    else:
        yield path


def _fields_of(struct: msgspec.Struct, *without: str) -> dict[str, Any]:
    return {key: getattr(struct, key) for key in struct.__struct_fields__ if key not in without}


def _transmitters(view: View) -> dict[str, Transmitter]:
    pipes = pipes_of(view.file)
    addresses = addresses_of(view.file, pipes)
    return {
        name: Transmitter(
            **_fields_of(unit, "layout", "pipe", "address", "signals"),
            layout=unit.layout or plain_name(unit.payload_bytes or 0),
            pipe=pipes[name],
            address=addresses[name],
            signals=_signals(unit.signals, view.streams[name]),
        )
        for name, unit in view.file.transmitter.items()
    }


def _signals(given: Mapping[str, Signal], layout: Layout) -> dict[str, Signal]:
    return {field.name: given.get(field.name, Constant()) for field in layout.fields}


def _outputs(view: View) -> dict[str, Output]:
    tables = dict(view.file.output)
    for name, stream in output_names(view.file):
        tables[name] = _default_output(view, stream)
    return {name: _output(view, table) for name, table in tables.items()}


def _output(view: View, table: OutputTable) -> Output:
    return Output(
        **_fields_of(table, "mix", "value", "limit_us"),
        mix=weights(table),
        value=table.value or range_of(view, table) or _UNKNOWN_RANGE,
        limit_us=table.limit_us or (min(table.pulse_us), max(table.pulse_us)),
    )


def _default_output(view: View, stream: str) -> OutputTable:
    """One 50 Hz servo on the first field that is no counter."""
    signals = view.file.transmitter[stream].signals
    fields = view.streams[stream].fields
    field = next(
        (field for field in fields if not isinstance(signals.get(field.name), Counter)), fields[0]
    )
    value = _usual_range(field)
    has_failsafe = stream in view.file.failsafe
    return OutputTable(
        stream=stream,
        field=field.name,
        value=value,
        on_failsafe=_on_failsafe(field.name, value) if has_failsafe else "hold",
    )


def _on_failsafe(field: str, value: tuple[float, float]) -> Literal["off"] | Preset:
    """The middle pulse, where it is that of the value 0 and of no motor; else no pulses.

    A motor that runs one way is at half throttle in the middle: where it stands still nobody can
    guess.
    """
    low, high = value
    is_two_way = abs(low + high) <= _NEARLY * (high - low)
    is_servo = is_two_way and MOTOR_NAMES.search(field) is None
    return Preset(preset_us=NEUTRAL_PULSE_US) if is_servo else "off"


def _usual_range(field: Field) -> tuple[float, float]:
    """A field's range; a float without min and max has none that a control could use."""
    if field.maximum - field.minimum > WIDEST:
        return _UNKNOWN_RANGE
    return field.minimum, field.maximum


USUAL_LOSS = 0.02
"""Share of attempts that an air of which nothing is known loses."""
_UNKNOWN_DISTANCE = Range(distance_m=10.0, path="free-space")
BETWEEN_M = 1.0
"""From one transmitter to the next on a person, where nothing is said."""


def _air(file: ScenarioFile) -> Air:
    given = file.air
    place = given.range
    if place is None and (file.interferer or given.between_transmitters_m is not None):
        place = _UNKNOWN_DISTANCE
    if place is not None and place.shadowing_db is None:
        usual_db = _SHADOWING_DB if place.path == "log-distance" else 0.0
        place = msgspec.structs.replace(place, shadowing_db=usual_db)
    is_described = given.range is not None or given.burst is not None
    loss = (0.0 if is_described else USUAL_LOSS) if given.loss is None else given.loss
    return Air(
        burst=given.burst,
        range=place,
        between_transmitters_m=given.between_transmitters_m
        or (None if place is None else BETWEEN_M),
        loss=loss,
        acknowledge_loss=loss if given.acknowledge_loss is None else given.acknowledge_loss,
    )


_SHADOWING_DB = 6.0
"""Common practice among houses and trees, no source."""


USUAL_GAP_MS = 200.0
"""Longest gap."""
USUAL_WAIT_MS = 100.0
"""From one value to the next, 99 of 100: longer than this and what moves is jerky."""
USUAL_LATENCY_MS = 100.0
"""From a hand or a head to the servo, 99 of 100 values: later than this and it is felt."""
