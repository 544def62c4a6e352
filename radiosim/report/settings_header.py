"""The settings of a link as one C header for all its boards."""

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping

import msgspec

from radiosim.engine.payload import padded_bytes
from radiosim.radio.air_frame import step_of
from radiosim.safety import CAUTION
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import guessed_presets
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.version import VERSION

_NOT_IN_A_NAME = re.compile(r"[^A-Z0-9]+")
_OF_THE_LINK = ("radio", "layout", "transmitter", "receiver", "failsafe", "output")
"""What boards must agree on: not how often and how long it was simulated, nor what was asked."""


def stamp_of(scenario: Scenario) -> str:
    """Eight hex digits that tell these settings from others: for the firmware to print at boot."""
    link = [getattr(scenario, name) for name in _OF_THE_LINK]
    return hashlib.sha256(msgspec.json.encode(link)).hexdigest()[:8].upper()


def settings_header(scenario: Scenario, cautions: Iterable[str] = ()) -> str:
    """C header: channel, addresses, periods, retries, timers and failsafe values, and a stamp.

    `cautions`: what whoever includes it must know, a line each.
    """
    units, outputs = _names(scenario.transmitter), _names(scenario.output)
    radio = scenario.radio
    lines = [
        f"/* Settings of {_plain(scenario.name)}, written by radiosim {VERSION}.",
        "   All boards of the link must have the same stamp: print it at boot.",
        *(f"   CAUTION: {_in_a_comment(text)}." for text in cautions),
        f"   CAUTION: {CAUTION} */",
        "#ifndef LINK_SETTINGS_H",
        "#define LINK_SETTINGS_H",
        "",
        "#include <stdint.h>",
        "",
        f"#define LINK_STAMP 0x{stamp_of(scenario)}UL",
        f"#define LINK_CHANNEL {radio.channel}",
        f"#define LINK_BIT_RATE {scenario.profile().bit_rate}UL",
        f"#define LINK_ADDRESS_BYTES {radio.address_bytes}",
        f"#define LINK_CHECKSUM_BYTES {radio.crc_bytes}",
        "",
    ]
    for name in scenario.transmitter:
        lines += [*_transmitter(scenario, name, units[name]), ""]
    for name, timer in scenario.failsafe.items():
        timeout = _micros(1000 * timer.timeout_ms)
        lines.append(f"#define LINK_{units[name]}_FAILSAFE_TIMEOUT_US {timeout}")
        lines.append(f"#define LINK_{units[name]}_RESUME_FRAMES {timer.resume_frames}")
    lines += [
        "",
        "/* What an output does on failsafe. */",
        "#define LINK_HOLD 0",
        "#define LINK_PRESET 1",
        "#define LINK_OFF 2",
        "",
    ]
    guessed = guessed_presets(scenario)
    for name, output in scenario.output.items():
        if name in guessed:
            lines.append(
                f"/* {_plain(name)}: nobody has said what it does on failsafe: set "
                f"output.{_plain(name)}.on_failsafe. */"
            )
        else:
            lines += _output(output, outputs[name])
    return "\n".join([*lines, "", "#endif", ""])


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


def _names(names: Iterable[str]) -> Mapping[str, str]:
    """Each name as a part of a macro's; those that would be alike are numbered."""
    found: dict[str, str] = {}
    for name in names:
        word = _NOT_IN_A_NAME.sub("_", name.upper())
        number = 1
        while (numbered := word if number == 1 else f"{word}_{number}") in found.values():
            number += 1
        found[name] = numbered
    return found


def _plain(name: str) -> str:
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
