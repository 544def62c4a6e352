"""Checks of outputs, of the failsafe, of faults put in, and of requirements."""

from collections.abc import Collection, Iterator

from radiosim.registers.fault_kind import AIR, RECEIVER, TRANSMITTER
from radiosim.registers.fault_register import fault_kind
from radiosim.registers.figure_register import figure_paths
from radiosim.scenario.checks.view import Found, View, output_names, unknown
from radiosim.scenario.key_paths import nearest
from radiosim.scenario.problems import shown
from radiosim.scenario.structs.output_table import OutputTable, Preset

Problem = tuple[tuple[str, ...], str]
WIDEST = 1e9
"""A range wider than this was not meant for a control: the field has no min and max."""


def output_problems(view: View) -> Iterator[Found]:
    """Outputs that follow what is not there, or whose figures contradict each other."""
    for name, output in view.file.output.items():
        for keys, text in _of_output(view, output):
            yield ("output", name, *keys), text
        path = ("output", name, "stream")
        yield from unknown(path, "the name of a transmitter", output.stream, view.file.transmitter)
        fields = view.fields(output.stream)
        if fields is not None:
            noun = f"a field of transmitter.{output.stream}"
            for field in weights(output):
                where = ("output", name, *(("field",) if output.field else ("mix", field)))
                yield from unknown(where, noun, field, fields)


def weights(output: OutputTable) -> dict[str, float]:
    """Weight of each field that an output follows; a lone field has weight 1."""
    if output.field is not None:
        return {output.field: 1.0}
    return output.mix or {}


def range_of(view: View, output: OutputTable) -> tuple[float, float] | None:
    """From the lowest to the highest value of an output's fields; None if they are not known."""
    layout = view.streams.get(output.stream)
    fields = [field for field in layout.fields if field.name in weights(output)] if layout else []
    if not fields:
        return None
    return min(field.minimum for field in fields), max(field.maximum for field in fields)


def _of_output(view: View, output: OutputTable) -> Iterator[Problem]:
    if output.field is None and not output.mix:
        yield ("field",), "must be given, or mix = { FIELD = WEIGHT }"
    elif output.field is not None and output.mix is not None:
        yield ("field",), "must be left out where mix is given, or mix left out"
    yield from _of_value(view, output)
    yield from _of_preset(output)
    if output.servo is not None and output.motor is not None:
        yield ("motor",), "must be left out where servo is given, or servo left out"
    if output.motor is not None and output.motor.idle_us is not None and output.kind != "servo":
        yield ("motor", "idle_us"), f"must be left out with kind = {output.kind!r}: it is a pulse"
    if output.kind == "servo":
        yield from _of_pulses(output)
    elif output.servo is not None:
        yield ("servo",), f"must be left out with kind = {output.kind!r}: a servo needs pulses"


def _of_value(view: View, output: OutputTable) -> Iterator[Problem]:
    if output.value is not None:
        low, high = output.value
        if not low < high:
            yield ("value",), f"must go up (pulse_us may be reversed), got {low:g} and {high:g}"
        return
    ends = range_of(view, output)
    if ends is not None and ends[1] - ends[0] > WIDEST:
        yield (
            ("value",),
            f"must be given: the fields go from {ends[0]:g} to {ends[1]:g}, or give them "
            "min and max",
        )


def _of_preset(output: OutputTable) -> Iterator[Problem]:
    preset = output.on_failsafe
    if not isinstance(preset, Preset):
        return
    if output.kind == "servo":
        if preset.preset_us is None or preset.preset is not None:
            yield ("on_failsafe",), "must be { preset_us = PULSE } with kind = 'servo'"
    elif preset.preset is None or preset.preset_us is not None:
        yield ("on_failsafe",), f"must be {{ preset = VALUE }} with kind = {output.kind!r}"


def _of_pulses(output: OutputTable) -> Iterator[Problem]:
    refresh_us = 1e6 / output.refresh_hz
    low, high = output.limit_us or output.pulse_us
    if output.pulse_us[0] == output.pulse_us[1]:
        yield ("pulse_us",), f"must be two different pulses, got {low:g} twice"
    if output.limit_us is not None and not low < high:
        yield ("limit_us",), f"must go up, got {low:g} and {high:g}"
    elif max(low, high) >= refresh_us:
        key = "pulse_us" if output.limit_us is None else "limit_us"
        yield (
            (key,),
            f"must be < {refresh_us:g}, one period of refresh_hz, got {max(low, high):g}",
        )
    if output.at_start != "none" and not 0 < output.at_start < refresh_us:
        yield (
            ("at_start",),
            f'must be "none" or a pulse > 0 and < {refresh_us:g} us, got {output.at_start:g}',
        )
    if output.servo is not None and output.servo.over_us[0] == output.servo.over_us[1]:
        yield ("servo", "over_us"), "must be two different pulses"


def failsafe_problems(view: View) -> Iterator[Found]:
    """Streams and fields that are not there."""
    for stream, failsafe in view.file.failsafe.items():
        path = ("failsafe", stream)
        yield from unknown(path, "the name of a transmitter", stream, view.file.transmitter)
        fields = view.fields(stream)
        if fields is None:
            continue
        noun = f"a field of transmitter.{stream}"
        if failsafe.watch_field:
            yield from unknown((*path, "watch_field"), noun, failsafe.watch_field, fields)
        if failsafe.resume_needs is not None:
            where = (*path, "resume_needs", "field")
            yield from unknown(where, noun, failsafe.resume_needs.field, fields)


def fault_problems(view: View) -> Iterator[Found]:
    """Units that are not there, or to which a fault cannot happen."""
    transmitters = tuple(view.file.transmitter)
    names = {TRANSMITTER: transmitters, RECEIVER: (RECEIVER,), AIR: (AIR,)}
    for number, fault in enumerate(view.file.fault):
        units = tuple(name for unit in fault_kind(fault.kind).units for name in names[unit])
        path = ("fault", number, "unit")
        yield from unknown(path, f"a unit that can have {fault.kind!r}", fault.unit, units)


def requirement_problems(view: View) -> Iterator[Found]:
    """Requirements without a limit, or on a figure that no result has."""
    if not view.file.requirement:
        return
    added = (name for name, _ in output_names(view.file))
    known = figure_paths(tuple(view.file.transmitter), (*view.file.output, *added))
    for number, wanted in enumerate(view.file.requirement):
        path = ("requirement", number)
        if (wanted.at_least is None) == (wanted.at_most is None):
            got = "neither" if wanted.at_least is None else "both"
            yield path, f"must have exactly one of at_least and at_most, got {got}"
        if wanted.figure not in known:
            hint = _hint(wanted.figure, known)
            yield (
                (*path, "figure"),
                f"must be the path of a figure, got {shown(wanted.figure)}{hint}",
            )


def _hint(figure: str, known: Collection[str]) -> str:
    """The figure that was meant; of a distribution its worst value."""
    if (worst := f"{figure}.max") in known:
        return f", did you mean {worst!r}?"
    return nearest(figure, known) or ", such as stream.NAME.gap_ms.max"
