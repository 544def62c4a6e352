"""The settings of a link as one C header for all its boards."""

import hashlib
import re

import msgspec

from radiosim.radio.retry_delay import step_of
from radiosim.scenario import Scenario
from radiosim.scenario.structs.output import Preset
from radiosim.version import VERSION

_NOT_IN_A_NAME = re.compile(r"[^A-Z0-9]+")


def stamp_of(scenario: Scenario) -> str:
    """Eight hex digits that tell these settings from others: for the firmware to print at boot."""
    return hashlib.sha256(msgspec.json.encode(scenario)).hexdigest()[:8].upper()


def settings_header(scenario: Scenario) -> str:
    """C header: channel, addresses, periods, retries, timers and failsafe values, and a stamp."""
    stamp = stamp_of(scenario)
    radio = scenario.radio
    lines = [
        f"/* Settings of {_plain(scenario.name)}, written by radiosim {VERSION}.",
        "   All boards of the link must have the same stamp: print it at boot.",
        "   A simulation is not proof: try them with wheels off the ground. */",
        "#ifndef LINK_SETTINGS_H",
        "#define LINK_SETTINGS_H",
        "",
        "#include <stdint.h>",
        "",
        f"#define LINK_STAMP 0x{stamp}UL",
        f"#define LINK_CHANNEL {radio.channel}",
        f"#define LINK_BIT_RATE {scenario.profile().bit_rate}UL",
        f"#define LINK_ADDRESS_BYTES {radio.address_bytes}",
        f"#define LINK_CHECKSUM_BYTES {radio.checksum_bytes}",
        "",
    ]
    for name in scenario.transmitter:
        lines += [*_transmitter(scenario, name), ""]
    for name, timer in scenario.failsafe.items():
        prefix = _name(name)
        lines.append(f"#define LINK_{prefix}_FAILSAFE_MS {_whole(timer.timeout_ms)}")
    for name, output in scenario.output.items():
        if isinstance(output.on_failsafe, Preset) and output.on_failsafe.preset_us is not None:
            value = _whole(output.on_failsafe.preset_us)
            lines.append(f"#define LINK_OUT_{_name(name)}_FAILSAFE_US {value}")
    return "\n".join([*lines, "", "#endif", ""])


def _transmitter(scenario: Scenario, name: str) -> list[str]:
    unit, prefix = scenario.transmitter[name], f"LINK_{_name(name)}"
    # Radios take the lowest byte first.
    octets = ", ".join(f"0x{octet:02X}" for octet in reversed(unit.address_octets))
    pace = "PAUSE" if unit.pacing == "after_send" else "PERIOD"
    pace_ms = unit.pause_ms if unit.pacing == "after_send" else unit.period_ms
    lines = [
        f"#define {prefix}_PIPE {unit.pipe}",
        f"#define {prefix}_ADDRESS {{ {octets} }} /* lowest byte first */",
        f"#define {prefix}_{pace}_US {_whole(1000 * (pace_ms or 0.0))}UL",
        f"#define {prefix}_PAYLOAD_BYTES {scenario.layout_of(name).size_bytes}",
    ]
    if unit.acknowledge is True:
        step = step_of(unit.retry_delay_us)
        lines.append(f"#define {prefix}_RETRY_DELAY_US {_whole(unit.retry_delay_us)}")
        if step is not None:
            lines.append(f"#define {prefix}_RETRY_STEP {step}")
        lines.append(f"#define {prefix}_RETRY_LIMIT {unit.retry_limit}")
    return lines


def _name(name: str) -> str:
    return _NOT_IN_A_NAME.sub("_", name.upper())


def _plain(name: str) -> str:
    """A name that cannot end a comment."""
    return "".join(c if c.isalnum() or c in " -_." else "?" for c in name)


def _whole(value: float) -> int:
    return round(value)
