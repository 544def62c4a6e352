"""What mutants are made of: scenarios, and the words that may stand in one."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from random import Random

from radiosim.scenario.schema import NAME, NUMBER, KeyPath, keys
from radiosim.scenario.shipped import shipped_scenarios
from tests.scenario.scenarios import FULL, HERE, SMALLEST

POINTS = "t_s,value\n0,0\n0.5,1\n2,-1\n"
HEADER = "#include <stdint.h>\nstruct Drive { uint8_t count; int16_t throttle; int8_t steer; };\n"
BESIDE = {"points.csv": POINTS, "frames.h": HEADER}
"""Files in the folder of every mutant."""

_WITH_FILES = """\
radio.profile = "gfsk-2M"
layout.d = { header = "frames.h", struct = "Drive", abi = "avr" }
transmitter.drive.layout = "d"
transmitter.drive.period_ms = 20
transmitter.drive.signals = { steer = { kind = "csv", file = "points.csv" } }
failsafe.drive = { timeout_ms = 250, watch_field = "count" }
receiver.work = [{ every_ms = 100, takes_ms = 8 }]
receiver.deaf = [{ every_ms = 500, for_ms = 4 }]
"""

_WITH_MORE = """\
duration_s = 20
radio.profile = "gfsk-1M"
layout.d.fields = [
  { name = "pan", type = "i8", scale = 0.5, min = -60, max = 60, bits = 8 },
  { name = "tilt", type = "u8", scale = 0.01, offset = 100, neutral = 0, min = -1, max = 1 },
]
transmitter.drive.layout = "d"
transmitter.drive.period_ms = 25
transmitter.drive.amplifier_ma = 90
transmitter.drive.work = [{ every_ms = 90, takes_ms = 2, longest_ms = 5, stretched_share = 0.1 }]
transmitter.drive.drift = { settle_ppm = 9, settle_s = 60, from_c = 10, to_c = 35, for_s = 5 }
transmitter.drive.place = { distance_m = 5, height_m = 1, gain_dbi = 2 }
transmitter.drive.antenna = { pattern = [[0, 0], [90, -9]], heading_field = "pan" }
transmitter.drive.signals.pan = { kind = "lookaround", amplitude = 50, sweep_s = 1, rest_s = 1 }
transmitter.drive.signals.tilt = { kind = "constant", value = 0.5, every_ms = 10 }
transmitter.head.payload_bytes = 6
transmitter.head.pacing = "after_send"
transmitter.head.pause_ms = 15
transmitter.head.place.track = [[0, 5], [10, 40]]
receiver.drift = { ppm_per_minute = 1, for_s = 9, cut_ppm_per_k = -0.1, from_c = 0, to_c = 9 }
receiver.work = [{ every_ms = 100, takes_ms = 3, longest_ms = 9, offset_ms = 4 }]
receiver.antenna = { pattern = [[0, 0], [180, -12]], heading_track = [[0, 0], [9, 90]] }
receiver.supply = { voltage_v = 6, resistance_mohm = 300, brownout_v = 3, capacitance_uf = 470 }
output.pan.stream = "drive"
output.pan.field = "pan"
output.pan.servo.travel_deg = 180
output.pan.load = { rest_ma = 5, moving_ma = 200, start_ma = 700, start_ms = 20 }
output.lamp = { stream = "drive", field = "tilt", kind = "pwm", on_failsafe.preset = 0.5 }
output.horn = { stream = "head", field = "value", value = [0, 255], motor.stop_s = 0.5 }
failsafe.drive = { timeout_ms = 300 }
interferer.house = { kind = "bursts", channel_mhz = 2437, beacon_every_ms = 102.4, for_s = 9 }
interferer.other = { kind = "transmitter", channel_mhz = 2468 }
air.range.track = [[0, 5], [5, 50]]
air.range.path = "log-distance"
air.range.fading = "rician"
air.range.anchor = { distance_m = 40, delivery = 0.9 }
"""

_VALUE = re.compile(rb"""=\s*("[^"\n]*"|\[[^\n]*?\]|\{[^\n]*?\}|[^\s,\]}#="\[{]+)""")
_MOST_BAD = 0.3
"""Share of mutants that begin as a scenario which is wrong already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corpus:
    """Scenarios to begin with, and what to put into them."""

    sound: tuple[bytes, ...]
    bad: tuple[bytes, ...]
    paths: tuple[KeyPath, ...]
    """Of every key that a scenario may have."""
    words: tuple[bytes, ...]
    """Of every key, and of what keys may be."""
    values: tuple[bytes, ...]
    """As they stand in the scenarios."""

    def begin(self, random: Random) -> bytes:
        """A scenario to change."""
        return random.choice(self.bad if random.random() < _MOST_BAD else self.sound)

    def other(self, random: Random) -> bytes:
        """A scenario to take something from."""
        return random.choice(random.choice((self.sound, self.bad)))


@cache
def corpus() -> Corpus:
    """Every scenario that ships and every one that stands among the tests, good and bad."""
    shipped = [given.path.read_bytes() for given in shipped_scenarios()]
    sound = (*shipped, *(text.encode() for text in (FULL, SMALLEST, _WITH_FILES, _WITH_MORE)))
    bad = tuple(path.read_bytes() for path in sorted((HERE / "bad").glob("*.toml")))
    return Corpus(
        sound=sound,
        bad=bad,
        paths=tuple(key.path for key in keys()),
        words=_words(),
        values=_each(value for given in (*sound, *bad) for value in _VALUE.findall(given)),
    )


def _words() -> tuple[bytes, ...]:
    said = (word for key in keys() for word in (*key.path, *re.findall(r"[\w-]+", key.allowed)))
    return _each(word.encode() for word in said if word not in (NAME, NUMBER))


def _each(words: Iterable[bytes]) -> tuple[bytes, ...]:
    """Every word once."""
    return tuple(dict.fromkeys(words))
