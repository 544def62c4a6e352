"""What `radiosim probe` writes: the header for the firmware, and a page on its wiring and use."""

from pathlib import Path

from radiosim.bench_log.probe_records import MOST_STREAMS
from radiosim.errors import OptionError
from radiosim.firmware.settings_header import c_words, plain_name, stamp_of
from radiosim.safety import CAUTION, CLEAR
from radiosim.scenario import Scenario
from radiosim.version import VERSION

HEADER = Path(__file__).parents[2] / "bench_log" / "c" / "probe.h"
AVR_INSTRUCTIONS = 165
"""At most, of a record that finds room, from the call of `probe_read` on: counted in what avr-gcc
5.4.0 makes with -Os for avr5, the loop of seven bytes seven times over."""
ARM_INSTRUCTIONS = 152
"""The same of arm-none-eabi-gcc 12.2.1 with -Os -mthumb."""
CYCLES = 2
"""Clock cycles that an AVR instruction takes at most, calls and returns apart, which take 3 to 5
and are few: AVR Instruction Set Manual, Microchip, DS40002198; from memory."""


def probe_header(scenario: Scenario) -> str:
    """The probe with the scenario's stamp, and the numbers of its streams and outputs.

    OptionError for more streams or outputs than a record can number.
    """
    units, outputs = c_words(scenario.transmitter), c_words(scenario.output)
    for what, names in (("transmitters", units), ("outputs", outputs)):
        if len(names) > MOST_STREAMS:
            raise OptionError(
                f"probe: a record numbers {MOST_STREAMS} {what}, the scenario has {len(names)}"
            )
    lines = [
        f"/* Probe of {plain_name(scenario.name)}, written by radiosim {VERSION}.",
        f"   A record: at most {AVR_INSTRUCTIONS} instructions (avr-gcc 5.4.0 -Os), "
        f"{ARM_INSTRUCTIONS} (arm-none-eabi-gcc 12.2.1 -Os).",
        f"   CAUTION: {CAUTION} */",
        "#ifndef PROBE_H",
        "#define PROBE_H",
        "",
        f"#define PROBE_STAMP 0x{stamp_of(scenario)}ul",
        *(f"#define PROBE_{word} {k}" for k, word in enumerate(units.values())),
        *(f"#define PROBE_OUT_{word} {k}" for k, word in enumerate(outputs.values())),
        "",
        HEADER.read_text(encoding="utf-8"),
        "#endif",
        "",
    ]
    return "\n".join(lines)


def probe_page(scenario: Scenario) -> str:
    """How the probe is wired and used, and how its log is read."""
    at_mhz = {mhz: CYCLES * AVR_INSTRUCTIONS / mhz for mhz in (8, 16)}
    streams = ", ".join(
        f"PROBE_{word} ({plain_name(name)})" for name, word in c_words(scenario.transmitter).items()
    )
    outputs = ", ".join(
        f"PROBE_OUT_{word} ({plain_name(name)})" for name, word in c_words(scenario.output).items()
    )
    unit = plain_name(next(iter(scenario.transmitter)))
    return f"""# The probe of {plain_name(scenario.name)}

{CAUTION}

## Wiring

- A serial adapter of the board's own voltage: 5 V on a pin of 3.3 V can destroy it.
- Its receive line to the board's transmit line, ground to ground. Leave the adapter's supply line
  open: two supplies on one board feed each other.
- A wire to a bench computer ties a vehicle down and is an antenna too: what is logged so
  is a vehicle on the bench: {CLEAR}.

## In the firmware

```c
#define PROBE_US() micros_of_yours()   /* uint32_t, wraps */
#define PROBE_HERE                     /* in one file alone */
#include "probe.h"
```

- `probe_boot()` once at every boot, `probe_pass()` once a turn of the loop.
- Receiver: `probe_read(stream, counter)` for each frame read, with the counter that is in the
  frame (a frame without one gets a field first, one more at each sample: else nobody can tell
  which frames are missing); `probe_failsafe(stream, 1)` as failsafe begins, `(stream, 0)` as it
  ends;
  `probe_output(output, us)` where a servo's pulse is written; pins and pwm levels have no record.
- Transmitter: `probe_sample(stream, counter)` as the controls are read, `probe_done(stream, ok,
  retries)` as the radio is done with the frame.
- `probe_drain(write)` at the end of a turn: `write` takes 8 bytes if the serial port has room for
  all of them and returns 1, else 0. It must not wait.
- Streams: {streams}.{f" Outputs: {outputs}." if outputs else ""}
- Where a call comes from an interrupt, define `PROBE_LOCK()` and `PROBE_UNLOCK()`.

## What it costs

{8 << 5} bytes of memory for 32 waiting records (PROBE_LOG2 is 5), and at most
{AVR_INSTRUCTIONS} instructions a record by avr-gcc, {ARM_INSTRUCTIONS} by arm-none-eabi-gcc, both
with -Os. At {CYCLES} clock cycles each that is {at_mhz[8]:.0f} us at 8 MHz and {at_mhz[16]:.0f} us
at 16 MHz, for each frame read or sent. To predict the firmware with its probe in it, add this to
`receiver.unpack_us` and `transmitter.{unit}.prepare_us`. A record is 8 bytes: at 115,200 baud
0.69 ms on the line. What finds no room is counted, and the log says how many were lost.

## The log

Write what comes from the serial line to a file, byte by byte, one file a unit. Eight bytes make a
record: event × 16 + stream, value (2 bytes), microseconds (4), lowest byte first, and a check.
"""
