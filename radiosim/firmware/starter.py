"""A receiver's program for a scenario, in C: it does what the scenario describes, to be changed."""

from collections.abc import Iterator

from radiosim.errors import FirmwareError
from radiosim.firmware.settings_header import c_words, plain_name
from radiosim.layout.emit_c import c_names, c_type, struct_name
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets
from radiosim.scenario.structs.output_table import Output, Preset

_FLOAT_NOISE_US = 1e-6
_HEAD = """\
/* A receiver for {name}: what its scenario describes, for you to change.
   It runs on a board as it stands, beside the functions of receiver.h.

   CAUTION: {caution} */
#include "link.h"
#include "receiver.h"

const uint32_t rx_stamp = LINK_STAMP;

typedef struct {{
    uint32_t fed_us;     /* when its timer was fed last */
    uint32_t counted_us; /* when its last frame in a row came */
    uint16_t in_a_row;
    uint8_t is_on_failsafe;
    uint8_t has_frame; /* there is one since the boot */
    uint8_t is_fresh;  /* it has not reached the outputs */
    uint8_t has_last;  /* the watched field has been seen */
}} stream_t;
"""
_TICKS = """\
/* Time in steps, as receiver.clock_tick_ms says. */
static uint32_t counted_us;
static uint32_t clock_us(void)
{{
    uint32_t past_us = rx_us() - counted_us;
    if (past_us >= {tick}UL)
        counted_us += past_us - past_us % {tick}UL;
    return counted_us;
}}
"""
_FED = """\
/* A frame counts for the timer of {stream}. */
static void fed_{word}(uint8_t is_own)
{{
    uint32_t now_us = {clock}();
{watch}    {word}.fed_us = now_us;
    if ({word}.in_a_row && now_us - {word}.counted_us > LINK_{WORD}_FAILSAFE_TIMEOUT_US)
        {word}.in_a_row = 0;
    if ({word}.in_a_row < UINT16_MAX)
        {word}.in_a_row++;
    {word}.counted_us = now_us;
    if ({word}.is_on_failsafe && {word}.in_a_row >= LINK_{WORD}_RESUME_FRAMES{needs}) {{
        {word}.is_on_failsafe = 0;
        {word}.is_fresh = 1;
        rx_failsafe(LINK_{WORD}_PIPE, 0);
    }}
}}

/* Looked at in every pass, frame or none. */
static void look_{word}(void)
{{
    if ({word}.is_on_failsafe || {clock}() - {word}.fed_us <= LINK_{WORD}_FAILSAFE_TIMEOUT_US)
        return;
    {word}.is_on_failsafe = 1;
    {word}.in_a_row = 0;
    rx_failsafe(LINK_{WORD}_PIPE, 1);
{actions}}}
"""
_WATCH = """\
    if (is_own) {{
        if ({word}.has_last && {word}_frame.{field} == {word}_last)
            return; /* a transmitter that hangs says the same again and again */
        {word}.has_last = 1;
        {word}_last = {word}_frame.{field};
    }}
"""
_WRITE = """\
static void write_{word}(void)
{{
    if (!{word}.is_fresh)
        return;
    {word}.is_fresh = 0;
    if (!{word}.has_frame || {word}.is_on_failsafe)
        return;
{writes}}}
"""
_PULSE = """\
/* The pulse of a value between two, inside limits, in us. */
static uint16_t pulse_us(double value, double low, double high, double first, double last,
                         double least, double most)
{
    double inside = value < low ? low : value > high ? high : value;
    double us = first + (inside - low) / (high - low) * (last - first);
    return (uint16_t)((us < least ? least : us > most ? most : us) + 0.5);
}
"""


def starter(scenario: Scenario) -> str:
    """Text of a program that takes, judges and writes as the scenario says.

    FirmwareError for what a program cannot do or nobody has said.
    """
    _check(scenario)
    words = {name: word.lower() for name, word in c_words(scenario.transmitter).items()}
    words = {name: f"tx_{word}" for name, word in words.items()}
    parts = [_HEAD.format(name=plain_name(scenario.name), caution=CAUTION)]
    if _tick_us(scenario):
        parts.append(_TICKS.format(tick=_tick_us(scenario)))
    parts += [_state(scenario, name, word) for name, word in words.items()]
    if any(output.kind == "servo" for output in scenario.output.values()):
        parts.append(_PULSE)
    for name, word in words.items():
        if name in scenario.failsafe:
            parts.append(_timer(scenario, name, word))
        parts.append(_WRITE.format(word=word, writes="".join(_writes(scenario, name, word))))
    parts.append(_take(scenario, words))
    parts.append(_boot(scenario, words))
    parts.append(_pass(scenario, words))
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
        watch = _WATCH.format(word=word, field=members[timer.watch_field])
    needs = ""
    if timer.resume_needs is not None:
        needs = f" && {word}.has_frame" + _near(scenario, stream, word)
    actions = "".join(_actions(scenario, stream))
    return _FED.format(
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
        call = "rx_pulse" if output.kind == "servo" else "rx_level"
        action = output.on_failsafe
        if action == "off":
            yield f"    {call}({macro}, 0);\n"
        elif isinstance(action, Preset) and action.preset_us is not None:
            us = _limited(output, macro, action.preset_us, f"{macro}_FAILSAFE_US")
            yield f"    {call}({macro}, {us});\n"
        elif isinstance(action, Preset):
            value = f"(double){macro}_FAILSAFE_VALUE"
            shown = _pulse(value, output) if output.kind == "servo" else f"(int16_t)({value})"
            yield f"    {call}({macro}, {shown});\n"


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
        terms = []
        for name, weight in output.mix.items():
            field = layout.fields[layout.index_of(name)]
            number = f"(double){word}_frame.{members[name]}"
            if field.offset:
                number = f"({number} - {field.offset})"
            value = f"({number} * {field.scale!r} + {field.neutral!r})"
            terms.append(value if weight == 1 else f"{float(weight)!r} * {value}")
        mixed = " + ".join(terms)
        if output.kind == "servo":
            yield f"    rx_pulse({macro}, {_pulse(mixed, output)});\n"
        else:
            low, high = sorted(output.value)
            yield "    {\n"
            yield f"        double value = {mixed};\n"
            ends = f"value < {low!r} ? {low!r} : value > {high!r} ? {high!r} : value"
            yield f"        value = {ends};\n"
            yield f"        rx_level({macro}, (int16_t)value);\n"
            yield "    }\n"


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
            lines.append(f"    rx_pulse({macro}, {us});")
        else:
            lines.append(f"    rx_level({macro}, (int16_t){macro}_AT_START_VALUE);")
    return "\n".join([*lines, "}", ""])


_READS = {
    "one": ["    if (rx_take(&pipe, bytes))", "        take(pipe, bytes);"],
    "all": ["    while (rx_take(&pipe, bytes))", "        take(pipe, bytes);"],
    "newest": [
        "    uint8_t pipes[8], frames[8][32], count = 0;",
        "    while (count < 8 && rx_take(&pipes[count], frames[count]))",
        "        count++;",
        "    for (uint8_t k = 0; k < count; k++) {",
        "        uint8_t is_newest = 1;",
        "        for (uint8_t later = k + 1; later < count; later++)",
        "            is_newest = is_newest && pipes[later] != pipes[k];",
        "        if (is_newest)",
        "            take(pipes[k], frames[k]);",
        "    }",
    ],
}


def _pass(scenario: Scenario, words: dict[str, str]) -> str:
    lines = ["void rx_pass(void)", "{"]
    if scenario.receiver.read != "newest":
        lines.append("    uint8_t pipe, bytes[32];")
    lines += _READS[scenario.receiver.read]
    lines += [f"    look_{words[name]}();" for name in scenario.failsafe]
    lines += [f"    write_{word}();" for word in words.values()]
    return "\n".join([*lines, "}", ""])
