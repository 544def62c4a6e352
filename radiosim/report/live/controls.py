"""The controls of a live page: keys of a scenario, told as the schema tells them."""

from collections.abc import Iterator
from typing import Any

from msgspec import Struct

from radiosim.scenario import Scenario
from radiosim.scenario.changed import document_of
from radiosim.scenario.key_paths import path_text
from radiosim.scenario.schema import NAME, Key, keys
from radiosim.study.drill.trade_off import TIMEOUTS_MS
from radiosim.study.tune.varied import retry_delays_us

Value = float | str

_LOOPS_MS = (0.1, 0.2, 0.5, 1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100)
_DELAYS_MS = (0, 1, 2, 3, 5, 7, 10, 15, 20, 30, 50)
_LOSSES = (0, 0.001, 0.003, 0.01, 0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5)
_FARTHER = (0.25, 0.35, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.15, 1.3, 1.5, 1.75, 2, 2.5, 3, 4, 6, 8)
"""Where sliders stop whose keys have no upper limit that says anything: common practice."""
_STEPS_MS = (0.1, 0.2, 0.5, 1, 2, 5, 10)
_MOST_STEPS = 70
_SHORTER, _LONGER = 0.5, 2.5
"""Of a period: from this part of its own to so many times it."""
_UNITS = ("_ms", "_us", "_s", "_m", "_bytes", "_hz")


class Control(Struct, frozen=True, kw_only=True):
    """One key that a page lets vary."""

    key: str
    """As `--set` takes it."""
    group: str
    """The unit that it belongs to: a transmitter, `receiver` or `air`."""
    name: str
    meaning: str
    unit: str
    allowed: str
    measure: str
    moves: tuple[str, ...]
    values: tuple[float, ...] = ()
    """Where a slider stops, the scenario's own among them; empty for words."""
    words: tuple[str, ...] = ()
    """What can be chosen, as a file has it; empty for numbers."""
    now: Value
    is_whole: bool = False


def controls_of(scenario: Scenario) -> tuple[Control, ...]:
    """All that the scenario has a value for, unit by unit."""
    return tuple(_controls(scenario))


def _controls(scenario: Scenario) -> Iterator[Control]:
    found = _Finder(scenario)
    delays = tuple(map(float, retry_delays_us(scenario)))
    # Frames of one link are alike: of several transmitters one can only leave out that it asks.
    formats = ("true", "false" if len(scenario.transmitter) == 1 else "flag")
    for name, unit in scenario.transmitter.items():
        at = ("transmitter", name)
        pace = "pause_ms" if unit.pacing == "after_send" else "period_ms"
        yield from found.number((*at, pace), name, _around(getattr(unit, pace)))
        yield from found.choice((*at, "acknowledge"), name, formats)
        if unit.acknowledge is not False:
            yield from found.number((*at, "retry_delay_us"), name, delays)
            yield from found.number((*at, "retry_limit"), name, tuple(map(float, range(16))))
        yield from found.number((*at, "payload_bytes"), name, tuple(map(float, range(1, 33))))
        if name in scenario.failsafe:
            yield from found.number(("failsafe", name, "timeout_ms"), name, TIMEOUTS_MS)
    yield from found.number(("receiver", "loop_ms"), "receiver", _LOOPS_MS)
    yield from found.number(("receiver", "delay_ms"), "receiver", _DELAYS_MS)
    yield from found.choice(("receiver", "read"), "receiver", ("one", "all", "newest"))
    yield from found.number(("air", "loss"), "air", _LOSSES)
    place = scenario.air.range
    if place is not None and place.distance_m:
        far = tuple(float(f"{place.distance_m * times:.2g}") for times in _FARTHER)
        yield from found.number(("air", "range", "distance_m"), "air", far)


class _Finder:
    """Looks up what a scenario has for a key, and what the schema says of it."""

    def __init__(self, scenario: Scenario) -> None:
        self._document = document_of(scenario)
        self._told = {key.path: key for key in keys()}

    def number(
        self, path: tuple[str, ...], group: str, values: tuple[float, ...]
    ) -> Iterator[Control]:
        """A control of numbers, where the scenario has one."""
        now = self._now(path)
        if isinstance(now, int | float) and not isinstance(now, bool) and values:
            told = self._key(path)
            yield Control(
                **_said(told, path, group),
                values=tuple(sorted({*map(float, values), float(now)})),
                now=float(now),
                is_whole="whole" in told.allowed,
            )

    def choice(
        self, path: tuple[str, ...], group: str, words: tuple[str, ...]
    ) -> Iterator[Control]:
        """A control of words, where the scenario has one of them."""
        now = self._now(path)
        word = str(now).lower() if isinstance(now, bool) else now
        if word in words:
            yield Control(**_said(self._key(path), path, group), words=words, now=word)

    def _now(self, path: tuple[str, ...]) -> Any:
        value: Any = self._document
        for step in path:
            value = value.get(step) if isinstance(value, dict) else None
        return value

    def _key(self, path: tuple[str, ...]) -> Key:
        pattern = (path[0], NAME, path[2]) if path[0] in ("transmitter", "failsafe") else path
        return self._told[pattern]


def _said(told: Key, path: tuple[str, ...], group: str) -> dict[str, Any]:
    name = path[-1]
    for unit in _UNITS:
        name = name.removesuffix(unit)
    return {
        "key": path_text(path),
        "group": group,
        "name": f"{'failsafe ' * (path[0] == 'failsafe')}{name.replace('_', ' ')}",
        "meaning": told.meaning,
        "unit": told.unit,
        "allowed": told.allowed,
        "measure": told.measure,
        "moves": told.moves,
    }


def _around(ms: float | None) -> tuple[float, ...]:
    """From a part of a period to some times it, in steps that a builder would try."""
    if not ms:
        return ()
    wide_ms = (_LONGER - _SHORTER) * ms
    step = next((step for step in _STEPS_MS if wide_ms / step <= _MOST_STEPS), _STEPS_MS[-1])
    first, last = round(_SHORTER * ms / step), round(_LONGER * ms / step)
    return tuple(round(k * step, 6) for k in range(max(1, first), last + 1))
