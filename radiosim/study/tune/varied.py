"""What a tuning varies, and the points at which it looks."""

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from radiosim.engine.plan import make_plan
from radiosim.errors import RadiosimError, ScenarioError
from radiosim.radio.air_frame import LONGEST_US, STEP_US, first_step_us, shortest_retry_delay_ns
from radiosim.scenario import Scenario
from radiosim.scenario.changed import changed, document_of
from radiosim.scenario.key_paths import Path, index_of, path_of, path_text
from radiosim.scenario.override import overridden
from radiosim.scenario.problems import problems, scenario_kind

MOST_POINTS = 100_000
USUAL_POINTS = 300
_LONGER = 2.5
"""Up to so many times its own a period is tried, and down to the same part of it."""
_RETRIES = (0, 1, 2, 3, 5)
_FEW = 2
"""Settings of which every combination is tried unless some are asked for."""

OPTIONS = {"seed": "--seed", "starts": "--starts", "duration_s": "--duration-s"}
"""Keys that say how a point is tried, not what it is; and the options for them."""

Value = float | str
"""A number, or a word as a scenario's file has it, `true` and `false` among them."""
Point = tuple[Value, ...]
Values = tuple[Value | None, ...]
"""Values of a point; None for what the scenario does not say, as it stands."""


class VaryError(RadiosimError):
    """Values to try that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One key, and the values that are tried."""

    key: str
    values: tuple[Value, ...]
    """All numbers, or all words."""

    @property
    def is_words(self) -> bool:
        """Its values are words, which have no order."""
        return any(isinstance(value, str) for value in self.values)

    def line(self, value: Value) -> str:
        """The point's settings as `--set` takes them."""
        return f"{self.key}={value if isinstance(value, str) else f'{value:.12g}'}"


_MOST_CHECKED = 8
"""Values of a setting that are looked at before anything runs."""
_WORD = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_NO_WORDS = {"nan", "inf", "infinity"}
"""What reads as a number, and is none to try."""


def parsed(text: str) -> Setting:
    """A setting from `KEY=FIRST:LAST:STEP` or `KEY=A,B,C`, numbers or words; VaryError for
    anything else."""
    key, _, rest = text.partition("=")
    form = f"--vary: must be KEY=FIRST:LAST:STEP or KEY=A,B,C, got '{text}'"
    is_range = ":" in rest
    parts = [part.strip(" \"'") for part in rest.strip("[] ").split(":" if is_range else ",")]
    if not key.strip():
        raise VaryError(form)
    try:
        path_of(key.strip())
    except ValueError:
        raise VaryError(
            f"--vary: KEY must be a path of keys with a dot between each two, got '{text}'"
        ) from None
    try:
        values: Sequence[Value] = [float(part) for part in parts]
    except ValueError:
        values = parts
        if is_range or not all(map(_is_value, parts)):
            raise VaryError(form) from None
    else:
        numbers = [float(part) for part in parts]
        if not all(map(math.isfinite, numbers)):
            raise VaryError(form)
        values = _grid(numbers, form) if is_range else numbers
    return Setting(key=key.strip(), values=tuple(dict.fromkeys(values)))


def _is_value(text: str) -> bool:
    """Whether it is a word, or a number beside words."""
    try:
        return math.isfinite(float(text))
    except ValueError:
        return _WORD.fullmatch(text) is not None and text.lower() not in _NO_WORDS


def _grid(numbers: Sequence[float], form: str) -> list[float]:
    if len(numbers) != 3:
        raise VaryError(form)
    first, last, step = numbers
    got = form.rpartition(", got ")[2]
    if step <= 0:
        raise VaryError(f"--vary: STEP must be above 0, got {got}")
    if last < first:
        raise VaryError(f"--vary: LAST must not be below FIRST, got {got}")
    count = int((last - first) / step + 1e-9) + 1
    if count > MOST_POINTS:
        raise VaryError(f"{form}: more than {MOST_POINTS:,} values")
    return [round(first + k * step, 9) for k in range(count)]


def usual(scenario: Scenario) -> tuple[Setting, ...]:
    """Periods, or pauses, of all transmitters; retry delays and limits of those that are
    acknowledged."""
    found = []
    for name, unit in scenario.transmitter.items():
        path = f"transmitter.{name}"
        pace = "pause_ms" if unit.pacing == "after_send" else "period_ms"
        pace_ms = unit.pause_ms if unit.pacing == "after_send" else unit.period_ms
        if pace_ms:
            low, high = math.ceil(pace_ms / _LONGER), int(pace_ms * _LONGER)
            values = tuple(float(ms) for ms in range(max(1, low), max(1, high) + 1))
            found.append(Setting(key=f"{path}.{pace}", values=values))
        if unit.acknowledge is True:
            delays = tuple(float(us) for us in retry_delays_us(scenario))
            if delays:
                found.append(Setting(key=f"{path}.retry_delay_us", values=delays))
            limits = tuple(float(n) for n in _RETRIES)
            found.append(Setting(key=f"{path}.retry_limit", values=limits))
    return tuple(found)


def retry_delays_us(scenario: Scenario) -> range:
    """The retry delays that radios know and that are over only after the acknowledgement (D5)."""
    tx = make_plan(scenario, 0).tx[0]
    after_ns = shortest_retry_delay_ns(tx.settle_ns, tx.ack_ns, scenario.profile().retry_settle)
    first_us = first_step_us(after_ns)
    return range(0) if first_us is None else range(first_us, LONGEST_US + 1, STEP_US)


def grid(settings: Sequence[Setting]) -> tuple[Point, ...]:
    """Every combination; VaryError for too many."""
    count = math.prod(len(setting.values) for setting in settings)
    if count > MOST_POINTS:
        raise VaryError(f"--vary: must make at most {MOST_POINTS:,} points, got {count:,}")
    return tuple(itertools.product(*(setting.values for setting in settings)))


def sampled(settings: Sequence[Setting], count: int, seed: int) -> tuple[Point, ...]:
    """Points of a Latin hypercube: each setting's values are used evenly (scipy's sampler).

    Values that fall together are tried once.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - loads slowly

    shares = qmc.LatinHypercube(d=len(settings), seed=seed).random(count)
    points = (
        tuple(
            setting.values[min(int(share * len(setting.values)), len(setting.values) - 1)]
            for setting, share in zip(settings, row, strict=True)
        )
        for row in shares.tolist()
    )
    return tuple(dict.fromkeys(points))


def values_in(scenario: Scenario, settings: Sequence[Setting]) -> Values:
    """What a scenario has for each of some settings; None where it has no value of their kind."""
    document = document_of(scenario)
    return tuple(_value_at(document, setting) for setting in settings)


def _at(document: Any, key: str) -> Any:
    """What a document has at a key path; None for nothing."""
    for step in path_of(key):
        try:
            document = document[int(step) if isinstance(document, list) else step]
        except (KeyError, IndexError, TypeError, ValueError):
            return None
    return document


def _value_at(document: Any, setting: Setting) -> Value | None:
    found = _at(document, setting.key)
    is_number = isinstance(found, int | float) and not isinstance(found, bool)
    if not setting.is_words:
        return float(found) if is_number else None
    if isinstance(found, bool):
        return str(found).lower()
    return f"{found:.12g}" if is_number else found if isinstance(found, str) else None


def chosen(
    scenario: Scenario, asked: Sequence[str], count: int | None
) -> tuple[tuple[Setting, ...], tuple[Point, ...]]:
    """Settings and points: those asked for, all combinations of them; else the usual, sampled.

    VaryError for keys that are none, values that are not allowed, or nothing to vary.
    """
    settings = tuple(parsed(text) for text in asked) or usual(scenario)
    if not settings:
        raise VaryError("--vary: must be given: this scenario has no period and no retries to vary")
    _check_keys(settings)
    for setting in settings:
        _check_values(scenario, setting)
    if count is None and asked:
        return settings, grid(settings)
    many = count or USUAL_POINTS
    if not asked and len(settings) <= _FEW:
        # Two periods make a map: every combination of fewer values shows where they beat.
        settings = tuple(
            thinned(one_setting, int(many ** (1 / len(settings)))) for one_setting in settings
        )
        return settings, grid(settings)
    return settings, sampled(settings, many, scenario.seed)


def _check_values(scenario: Scenario, setting: Setting) -> None:
    """VaryError for a key that is none, a word that it does not take, or nothing that it can be.

    A number or word that others forbid where they stand now is a point that is refused.
    """
    refused = [_refused(scenario, setting, value) for value in setting.values[:_MOST_CHECKED]]
    slips = [text for text, is_slip in refused if text and is_slip and setting.is_words]
    text = next(iter(slips), refused[0][0] if all(text for text, _ in refused) else "")
    if text:
        raise VaryError(f"--vary: {text}")


def _refused(scenario: Scenario, setting: Setting, value: Value) -> tuple[str, bool]:
    """Why a setting cannot have a value, empty if it can; and whether that is so by itself."""
    document, _, found = overridden(document_of(scenario), [setting.line(value)])
    slips = [(path_text(path), text) for path, text in problems(document, scenario_kind())]
    slips += [(problem.path, problem.text) for problem in found]
    if not slips:
        try:
            changed(scenario, [setting.line(value)])
        except ScenarioError as error:
            found = error.problems
    # An unknown table is named itself, not the key in it; a new one lacks others of its keys.
    key, table = f"{setting.key}.", setting.key.rpartition(".")[0]
    is_new = bool(table) and _at(document_of(scenario), table) is None
    told = [(problem.path, problem.text) for problem in found]
    mine = slips or [
        (path, text)
        for path, text in told
        if path and (key.startswith(f"{path}.") or (is_new and path.startswith(f"{table}.")))
    ]
    return next((f"{path}: {text}" for path, text in mine), ""), bool(slips)


def _check_keys(settings: Sequence[Setting]) -> None:
    """VaryError for a key that stands twice, or one that is no setting of the link."""
    seen: set[Path] = set()
    for setting in settings:
        steps = path_of(setting.key)
        path = tuple(step if (index := index_of(step)) is None else index for step in steps)
        if path in seen:
            raise VaryError(f"--vary: must name each key once, got {setting.key} twice")
        if path[0] in OPTIONS:
            raise VaryError(
                f"--vary: must be a setting of the link, got {path[0]}: every point is tried on "
                f"the same draws ({OPTIONS[path[0]]} sets it for all)"
            )
        seen.add(path)


def thinned(setting: Setting, most: int) -> Setting:
    """A setting with at most so many of its values, evenly spread from first to last."""
    last, wanted = len(setting.values) - 1, max(2, min(most, len(setting.values)))
    places = (round(k * last / (wanted - 1)) for k in range(wanted))
    return Setting(
        key=setting.key, values=tuple(dict.fromkeys(setting.values[place] for place in places))
    )
