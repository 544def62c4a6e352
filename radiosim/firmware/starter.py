"""A receiver's program for a scenario, in C: it does what the scenario describes, to be changed."""

from collections.abc import Iterator, Sequence

from radiosim.errors import FirmwareError
from radiosim.firmware.fixed_point import Line, line_of
from radiosim.firmware.settings_header import c_words, plain_name
from radiosim.firmware.starter_text import (
    FED,
    HEAD,
    HELPERS,
    RAMPS,
    READS,
    TICKS,
    WATCH,
    WRITE,
)
from radiosim.layout import Field
from radiosim.layout.emit_c import c_names, c_type, struct_name
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets
from radiosim.scenario.structs.output_table import Output, Preset

_FLOAT_NOISE_US = 1e-6


def starter(scenario: Scenario) -> str:
    """Text of a program that takes, judges and writes as the scenario says.

    FirmwareError for what a program cannot do or nobody has said.
    """
    _check(scenario)
    words = {name: word.lower() for name, word in c_words(scenario.transmitter).items()}
    words = {name: f"tx_{word}" for name, word in words.items()}
    parts = [HEAD.format(name=plain_name(scenario.name), caution=CAUTION)]
    if _tick_us(scenario):
        parts.append(TICKS.format(tick=_tick_us(scenario)))
    parts += [_state(scenario, name, word) for name, word in words.items()]
    if ramps := tuple(_ramps(scenario)):
        parts.append(RAMPS)
        parts.append("".join(f"static ramp_t {_ramp(macro)};\n" for macro, _ in ramps))
    helpers = len(parts)
    for name, word in words.items():
        if name in scenario.failsafe:
            parts.append(_timer(scenario, name, word))
        parts.append(WRITE.format(word=word, writes="".join(_writes(scenario, name, word))))
    parts.append(_take(scenario, words))
    parts.append(_boot(scenario, words))
    parts.append(_pass(scenario, words))
    text = "".join(parts)
    parts[helpers:helpers] = [helper for call, helper in HELPERS.items() if call in text]
    return "\n".join(parts)


def _check(scenario: Scenario) -> None:
    for name in guessed_presets(scenario):
        raise FirmwareError(
            f"output.{name}.on_failsafe: nobody has said it, so no program is written; set it"
        )
    tick_us = 1000 * scenario.receiver.clock_tick_ms
    if scenario.failsafe and abs(tick_us - round(tick_us)) > _FLOAT_NOISE_US:
        raise FirmwareError(
            "receiver.clock_tick_ms: the program that is written counts in whole microseconds, got "
            f"{tick_us / 1000:g}; set it to {max(1, round(tick_us)) / 1000:g}"
        )
    if scenario.receiver.interrupt:
        raise FirmwareError(
            "receiver.interrupt: no program is written that reads by interrupt, as what it shares "
            "with its passes must be guarded on each chip in another way; set it to false"
        )
    pipes: dict[int, str] = {}
    for name, unit in scenario.transmitter.items():
        other = pipes.setdefault(unit.pipe, name)
        if other != name:
            raise FirmwareError(
                f"transmitter.{name}.pipe: {other} has {unit.pipe} too: no program tells them apart"
            )


def _tick_us(scenario: Scenario) -> int:
    """The step that its timers count in; 0: none but that of its clock."""
    return round(1000 * scenario.receiver.clock_tick_ms) if scenario.failsafe else 0


def _clock(scenario: Scenario) -> str:
    return "clock_us" if _tick_us(scenario) else "rx_us"


def _state(scenario: Scenario, stream: str, word: str) -> str:
    layout = scenario.layout_of(stream)
    lines = [f"static stream_t {word};", f"static {struct_name(layout)[0]}_t {word}_frame;"]
    timer = scenario.failsafe.get(stream)
    if timer is not None and timer.watch_field:
        lines.append(f"static {_type_of(scenario, stream, timer.watch_field)} {word}_last;")
    return "\n".join([*lines, ""])


def _type_of(scenario: Scenario, stream: str, name: str) -> str:
    layout = scenario.layout_of(stream)
    return c_type(layout.fields[layout.index_of(name)])


def _timer(scenario: Scenario, stream: str, word: str) -> str:
    timer = scenario.failsafe[stream]
    macro = c_words(scenario.transmitter)[stream]
    members = c_names(scenario.layout_of(stream))
    watch = "    (void)is_own;\n"
    if timer.watch_field:
        watch = WATCH.format(word=word, field=members[timer.watch_field])
    needs = ""
    if timer.resume_needs is not None:
        needs = f" && {word}.has_frame" + _near(scenario, stream, word)
    actions = "".join(_actions(scenario, stream))
    return FED.format(
        stream=plain_name(stream),
        word=word,
        WORD=macro,
        clock=_clock(scenario),
        watch=watch,
        needs=needs,
        actions=actions,
    )


def _near(scenario: Scenario, stream: str, word: str) -> str:
    """Whether the field that a timer needs is near neutral in the last frame."""
    needs = scenario.failsafe[stream].resume_needs
    assert needs is not None
    layout = scenario.layout_of(stream)
    field = layout.fields[layout.index_of(needs.field)]
    member = f"{word}_frame.{c_names(layout)[needs.field]}"
    if field.kind == "float":
        span = needs.within / abs(field.scale)
        return (
            f" &&\n        {member} >= {field.offset - span!r} &&"
            f" {member} <= {field.offset + span!r}"
        )
    macro = c_words(scenario.transmitter)[stream]
    return (
        f" &&\n        {member} >= LINK_{macro}_RESUME_LEAST &&"
        f" {member} <= LINK_{macro}_RESUME_MOST"
    )


def _outputs(scenario: Scenario, stream: str) -> Iterator[tuple[str, Output]]:
    words = c_words(scenario.output)
    for name, output in scenario.output.items():
        if output.stream == stream:
            yield f"LINK_OUT_{words[name]}", output


def _actions(scenario: Scenario, stream: str) -> Iterator[str]:
    """What outputs do on failsafe."""
    for macro, output in _outputs(scenario, stream):
        action = output.on_failsafe
        if action == "off":
            yield f"    {_call(output, macro, '0')}\n"
        elif isinstance(action, Preset) and action.preset_us is not None:
            us = _limited(output, macro, action.preset_us, f"{macro}_FAILSAFE_US")
            yield f"    {_call(output, macro, us)}\n"
        elif isinstance(action, Preset):
            value = f"(double){macro}_FAILSAFE_VALUE"
            if output.kind == "servo":
                yield f"    {_call(output, macro, _pulse(value, output), is_whole=False)}\n"
            else:
                yield f"    {_call(output, macro, f'level_of({value})')}\n"


def _ramps(scenario: Scenario) -> Iterator[tuple[str, Output]]:
    """Outputs with smoothing."""
    words = c_words(scenario.output)
    for name, output in scenario.output.items():
        if _is_ramped(output):
            yield f"LINK_OUT_{words[name]}", output


def _is_ramped(output: Output) -> bool:
    return output.kind == "servo" and output.smoothing_us_per_pass > 0


def _ramp(macro: str) -> str:
    return f"{macro.removeprefix('LINK_').lower()}_ramp"


def _call(output: Output, macro: str, value: str, *, is_whole: bool = True) -> str:
    """The statement by which an output is at a value at once."""
    if output.kind != "servo":
        return f"rx_level({macro}, {value});"
    if _is_ramped(output):
        return f"put_at(&{_ramp(macro)}, {macro}, {value});"
    return f"rx_pulse({macro}, {value if is_whole else f'(uint16_t)({value} + 0.5)'});"


def _limited(output: Output, macro: str, us: float, said: str) -> str:
    """The macro of a pulse, or of the limit that it is kept inside."""
    least, most = sorted(output.limit_us)
    return f"{macro}_LEAST_US" if us < least else f"{macro}_MOST_US" if us > most else said


def _pulse(value: str, output: Output) -> str:
    low, high = sorted(output.value)
    least, most = sorted(output.limit_us)
    ends = (low, high, *output.pulse_us, least, most)
    return f"pulse_us({value}, {', '.join(map(repr, map(float, ends)))})"


def _writes(scenario: Scenario, stream: str, word: str) -> Iterator[str]:
    layout = scenario.layout_of(stream)
    members = c_names(layout)
    for macro, output in _outputs(scenario, stream):
        fields = [layout.fields[layout.index_of(name)] for name in output.mix]
        places = [f"{word}_frame.{members[name]}" for name in output.mix]
        terms = list(zip(fields, places, output.mix.values(), strict=True))
        line = None if _is_ramped(output) else line_of(fields, tuple(output.mix.values()), output)
        yield (
            _mixed(macro, output, terms) if line is None else _in_parts(macro, output, line, terms)
        )


_Terms = Sequence[tuple[Field, str, float]]
"""Field, where its number stands, and its weight."""


def _in_parts(macro: str, output: Output, line: Line, terms: _Terms) -> str:
    """The statement that writes an output in whole numbers."""
    products = [
        f"{factor} * (int32_t){place}"
        for factor, (_, place, _) in zip(line.factors, terms, strict=True)
    ]
    parts = " + ".join([str(line.constant), *products]).replace("+ -", "- ")
    value = f"within(\n        {parts},\n        {line.least}, {line.most}) >> {line.shift}"
    cast = "uint16_t" if output.kind == "servo" else "int16_t"
    return f"    {_call(output, macro, f'({cast})({value})')}\n"


def _mixed(macro: str, output: Output, terms: _Terms) -> str:
    """The statements that write one that whole numbers of 32 bits cannot hold, or that ramps."""
    numbers = []
    for field, place, weight in terms:
        number = f"(double){place}"
        if field.offset:
            number = f"({number} - {field.offset})"
        value = f"({number} * {field.scale!r} + {field.neutral!r})"
        numbers.append(value if weight == 1 else f"{float(weight)!r} * {value}")
    mixed = " + ".join(numbers)
    if _is_ramped(output):
        return f"    move_to(&{_ramp(macro)}, {macro}, {_pulse(mixed, output)});\n"
    if output.kind == "servo":
        return f"    {_call(output, macro, _pulse(mixed, output), is_whole=False)}\n"
    low, high = sorted(output.value)
    ends = f"value < {low!r} ? {low!r} : value > {high!r} ? {high!r} : value"
    return (
        "    {\n"
        f"        double value = {mixed};\n"
        f"        value = {ends};\n"
        f"        rx_level({macro}, level_of(value));\n"
        "    }\n"
    )


def _take(scenario: Scenario, words: dict[str, str]) -> str:
    macros = c_words(scenario.transmitter)
    lines = ["static void take(uint8_t pipe, const uint8_t *bytes)", "{"]
    for name, word in words.items():
        struct = struct_name(scenario.layout_of(name))[0]
        lines += [
            f"    if (pipe == LINK_{macros[name]}_PIPE) {{",
            f"        {struct}_unpack(bytes, &{word}_frame);",
            f"        {word}.has_frame = {word}.is_fresh = 1;",
            "    }",
        ]
    for name, timer in scenario.failsafe.items():
        own = f"pipe == LINK_{macros[name]}_PIPE"
        call = f"fed_{words[name]}({own});"
        lines += (
            [f"    {call}"] if timer.fed_by == "any" else [f"    if ({own})", f"        {call}"]
        )
    return "\n".join([*lines, "}", ""])


def _boot(scenario: Scenario, words: dict[str, str]) -> str:
    lines = ["void rx_boot(void)", "{"]
    if _tick_us(scenario):
        lines.append("    counted_us = rx_us();")
    for name in scenario.failsafe:
        word = words[name]
        lines.append(f"    {word}.fed_us = {word}.counted_us = {_clock(scenario)}();")
        lines.append(f"    {word}.is_on_failsafe = 1;")
    macros = c_words(scenario.output)
    for name, output in scenario.output.items():
        macro = f"LINK_OUT_{macros[name]}"
        if output.at_start == "none":
            continue
        if output.kind == "servo":
            us = _limited(output, macro, output.at_start, f"{macro}_AT_START_US")
            lines.append(f"    {_call(output, macro, us)}")
        else:
            lines.append(f"    rx_level({macro}, level_of({macro}_AT_START_VALUE));")
    return "\n".join([*lines, "}", ""])


def _pass(scenario: Scenario, words: dict[str, str]) -> str:
    lines = ["void rx_pass(void)", "{"]
    if scenario.receiver.read != "newest":
        lines.append("    uint8_t pipe, bytes[32];")
    lines += READS[scenario.receiver.read]
    lines += [f"    look_{words[name]}();" for name in scenario.failsafe]
    lines += [f"    write_{word}();" for word in words.values()]
    for macro, output in _ramps(scenario):
        step_us = float(output.smoothing_us_per_pass)
        lines.append(f"    step_on(&{_ramp(macro)}, {macro}, {step_us!r});")
    return "\n".join([*lines, "}", ""])
