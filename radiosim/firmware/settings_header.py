"""The settings of a link as one C header for all its boards."""

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping

from radiosim.engine.payload import padded_bytes
from radiosim.layout import Field, Layout
from radiosim.layout.emit_c import c_header, struct_name
from radiosim.radio.air_frame import step_of
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.version import VERSION

_NOT_IN_A_NAME = re.compile(r"[^A-Z0-9]+")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


def stamp_of(scenario: Scenario) -> str:
    """Eight hex digits that tell these settings from others: for the firmware to print at boot.

    Of what a compiler sees of the headers, and of nothing else.
    """
    seen = "\n".join([*_settings(scenario), *map(c_header, _layouts(scenario).values())])
    words = " ".join(_COMMENT.sub(" ", seen).split())
    return hashlib.sha256(words.encode()).hexdigest()[:8].upper()


def link_header(scenario: Scenario) -> str:
    """The settings, and the frames of every layout that a transmitter sends, as one C header.

    Raises LayoutError for a bit field that C cannot hold where it lies.
    """
    frames = [c_header(layout) for layout in _layouts(scenario).values()]
    return "\n".join([settings_header(scenario), *frames])


def _layouts(scenario: Scenario) -> dict[str, Layout]:
    layouts = scenario.layouts()
    names = dict.fromkeys(unit.layout for unit in scenario.transmitter.values())
    return {name: layouts[name] for name in names}


def settings_header(scenario: Scenario, cautions: Iterable[str] = ()) -> str:
    """C header: channel, addresses, periods, retries, timers and failsafe values, and a stamp.

    `cautions`: what whoever includes it must know, a line each.
    """
    lines = [
        f"/* Settings of {plain_name(scenario.name)}, written by radiosim {VERSION}.",
        "   All boards of the link must have the same stamp: print it at boot.",
        *(f"   CAUTION: {_in_a_comment(text)}." for text in cautions),
        f"   CAUTION: {CAUTION} */",
        "#ifndef LINK_SETTINGS_H",
        "#define LINK_SETTINGS_H",
        "",
        "#include <stdint.h>",
        "",
        f"#define LINK_STAMP 0x{stamp_of(scenario)}UL",
        *_settings(scenario),
        "",
        "#endif",
        "",
    ]
    return "\n".join(lines)


def _settings(scenario: Scenario) -> list[str]:
    """All lines that the stamp speaks for."""
    units, outputs = c_words(scenario.transmitter), c_words(scenario.output)
    radio = scenario.radio
    lines = [
        f"#define LINK_CHANNEL {radio.channel}",
        f"#define LINK_BIT_RATE {scenario.profile().bit_rate}UL",
        f"#define LINK_ADDRESS_BYTES {radio.address_bytes}",
        f"#define LINK_CHECKSUM_BYTES {radio.crc_bytes}",
        "",
    ]
    for name in scenario.transmitter:
        lines += [*_transmitter(scenario, name, units[name]), ""]
    for layout in _layouts(scenario).values():
        lines += [*_scales(layout), ""]
    for name in scenario.failsafe:
        lines += _timer(scenario, name, units[name])
    lines += [
        "",
        "/* What an output does on failsafe. */",
        "#define LINK_HOLD 0",
        "#define LINK_PRESET 1",
        "#define LINK_OFF 2",
        "",
    ]
    guessed = guessed_presets(scenario)
    for number, (name, output) in enumerate(scenario.output.items()):
        lines.append(f"#define LINK_OUT_{outputs[name]} {number}")
        lines += _at_start(output, outputs[name])
        if name in guessed:
            lines.append(
                f"/* {plain_name(name)}: nobody has said what it does on failsafe: set "
                f"output.{plain_name(name)}.on_failsafe. */"
            )
        else:
            lines += _output(output, outputs[name])
    return lines


def _timer(scenario: Scenario, stream: str, word: str) -> Iterator[str]:
    timer, prefix = scenario.failsafe[stream], f"#define LINK_{word}"
    yield f"{prefix}_FAILSAFE_TIMEOUT_US {_micros(1000 * timer.timeout_ms)}"
    yield f"{prefix}_RESUME_FRAMES {timer.resume_frames}"
    needs, layout = timer.resume_needs, scenario.layout_of(stream)
    if needs is not None:
        field = layout.fields[layout.index_of(needs.field)]
        if field.kind == "float":
            name = plain_name(needs.field)
            yield f"/* Resumes while {name} is at rest: within {needs.within:g}. */"
            return
        low, high = numbers_within(field, needs.within)
        yield f"/* Numbers of {plain_name(needs.field)} with which it may resume. */"
        yield f"{prefix}_RESUME_LEAST {_number(low)}"
        yield f"{prefix}_RESUME_MOST {_number(high)}"


def numbers_within(field: Field, within: float) -> tuple[int, int]:
    """Lowest and highest number on the wire whose value is that near to neutral."""

    def is_near(number: int) -> bool:
        return abs(field.to_value(number) - field.neutral) <= within

    reach = int(within / abs(field.scale)) + 2
    low, high = map(int, field.raw_range)
    least, most = max(low, field.offset - reach), min(high, field.offset + reach)
    while least < field.offset and not is_near(least):
        least += 1
    while most > field.offset and not is_near(most):
        most -= 1
    return least, most


def _scales(layout: Layout) -> Iterator[str]:
    """What a number of each field stands for, and its numbers at rest and at its ends."""
    guard, words = struct_name(layout)[1], c_words(field.name for field in layout.fields)
    for field in layout.fields:
        prefix = f"#define {guard}_{words[field.name]}"
        if field.kind == "float" or (field.scale, field.neutral, field.offset) == (1.0, 0.0, 0):
            continue
        ends = sorted(int(field.to_wire(value)) for value in (field.minimum, field.maximum))
        yield f"{prefix}_SCALE {field.scale!r}"
        yield f"{prefix}_NEUTRAL {_number(field.offset)}"
        yield f"{prefix}_LEAST {_number(ends[0])}"
        yield f"{prefix}_MOST {_number(ends[1])}"


def _number(number: int) -> str:
    return f"({number})" if number < 0 else str(number)


def _at_start(output: Output, word: str) -> Iterator[str]:
    prefix = f"#define LINK_OUT_{word}"
    level = None if output.at_start == "none" else output.at_start
    if output.kind != "servo":
        yield f"{prefix}_AT_START_VALUE ({float(level or 0.0)!r})"
        return
    none = " /* none */" if level is None else ""
    yield f"{prefix}_AT_START_US {_micros(level or 0.0)}{none}"
    least, most = sorted(output.limit_us)
    yield f"{prefix}_LEAST_US {_micros(least)}"
    yield f"{prefix}_MOST_US {_micros(most)}"


def _transmitter(scenario: Scenario, name: str, word: str) -> list[str]:
    unit, prefix = scenario.transmitter[name], f"LINK_{word}"
    # Radios take the lowest byte first.
    octets = ", ".join(f"0x{octet:02X}" for octet in reversed(unit.address_octets))
    payload_bytes = padded_bytes(scenario, unit, scenario.layout_of(name))
    pace = "PAUSE" if unit.pacing == "after_send" else "PERIOD"
    pace_ms = unit.pause_ms if unit.pacing == "after_send" else unit.period_ms
    lines = [
        f"#define {prefix}_PIPE {unit.pipe}",
        f"#define {prefix}_ADDRESS {{ {octets} }} /* lowest byte first */",
        f"#define {prefix}_{pace}_US {_micros(1000 * (pace_ms or 0.0))}",
        f"#define {prefix}_PAYLOAD_BYTES {payload_bytes}",
    ]
    if unit.dither_ms:
        lines.append(f"#define {prefix}_DITHER_US {_micros(1000 * unit.dither_ms)}")
    if unit.acknowledge is True:
        step = step_of(unit.retry_delay_us)
        lines.append(f"#define {prefix}_RETRY_DELAY_US {_micros(unit.retry_delay_us)}")
        if step is not None:
            lines.append(f"#define {prefix}_RETRY_STEP {step}")
        lines.append(f"#define {prefix}_RETRY_LIMIT {unit.retry_limit}")
    return lines


def _output(output: Output, word: str) -> Iterator[str]:
    on_failsafe = output.on_failsafe
    if output.motor is not None and output.motor.idle_us is not None:
        yield f"#define LINK_OUT_{word}_IDLE_US {_micros(output.motor.idle_us)}"
    if not isinstance(on_failsafe, Preset):
        yield f"#define LINK_OUT_{word}_ON_FAILSAFE LINK_{on_failsafe.upper()}"
        return
    yield f"#define LINK_OUT_{word}_ON_FAILSAFE LINK_PRESET"
    if on_failsafe.preset_us is not None:
        yield f"#define LINK_OUT_{word}_FAILSAFE_US {_micros(on_failsafe.preset_us)}"
    if on_failsafe.preset is not None:
        yield f"#define LINK_OUT_{word}_FAILSAFE_VALUE ({float(on_failsafe.preset)!r})"


def c_words(names: Iterable[str]) -> Mapping[str, str]:
    """Each name as a part of a macro's; those that would be alike are numbered."""
    found: dict[str, str] = {}
    for name in names:
        word = _NOT_IN_A_NAME.sub("_", name.upper())
        number = 1
        while (numbered := word if number == 1 else f"{word}_{number}") in found.values():
            number += 1
        found[name] = numbered
    return found


def plain_name(name: str) -> str:
    """A name that cannot end a comment."""
    return "".join(c if c.isalnum() or c in " -_." else "?" for c in name)


def _in_a_comment(text: str) -> str:
    """A sentence that cannot end a comment, nor begin one, on one line."""
    one = "".join(c if c.isprintable() and c != "\\" else "?" for c in text)
    return one.replace("*/", "*?").replace("/*", "?*")


def _micros(value: float) -> str:
    """A whole number of microseconds; what was rounded says so."""
    whole = round(value)
    # Ten digits: beyond is float noise, not the scenario.
    is_exact = f"{value:.10g}" == f"{whole:.10g}"
    return f"{whole}UL" + ("" if is_exact else f" /* rounded: {value:.10g} */")
