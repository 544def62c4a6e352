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
    sound = (*shipped, *(text.encode() for text in (FULL, SMALLEST, _WITH_FILES)))
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
