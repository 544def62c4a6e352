"""Loss on the air that a log can tell: chance loss, and loss that comes in bursts."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

from radiosim.bench_log.estimates import Estimate
from radiosim.scenario import Scenario
from radiosim.study.fit.figure import Figure, Values
from radiosim.study.fit.setting import Setting, interval_text, usual

OF_LOSS = ("missing.", "reads.", "longest_gap.", "retries.", "loss_run.", "trips.")
"""Figures that loss moves."""


def of_losses(
    scenario: Scenario, figures: Mapping[str, Figure], simulated: Sequence[Values]
) -> Iterator[Setting]:
    """The settings of loss that explain the figures of it; `simulated`: of the scenario as it is.

    None where the scenario says what loss depends on: then its distances are to be measured.
    """
    air = scenario.air
    if air.range is not None:
        return
    yield from _bursts(figures)
    if air.burst is not None:
        return
    found = [
        one
        for name in scenario.transmitter
        for way in (_from_retries, _from_missing)
        for one in way(scenario, name, figures, simulated)
    ]
    for is_alike in (True, False):
        ways = [setting for alike, setting in found if alike == is_alike]
        # Of several streams the one that tells it most closely.
        yield from sorted(ways, key=_width)[:1]


def _width(setting: Setting) -> float:
    assert setting.high is not None
    assert setting.low is not None
    return setting.high - setting.low


def _from_retries(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], simulated: Sequence[Values]
) -> Iterator[tuple[bool, Setting]]:
    """An attempt that fails is tried again: frames, or their acknowledgements, are lost.

    With a chance f of failing each time, retries a frame are f + f² + … + fⁿ. What collisions take
    stays as simulated.
    """
    air, limit = scenario.air, scenario.transmitter[name].retry_limit
    figure, known = figures.get(f"retries.{name}"), usual(simulated, f"retries.{name}")
    if figure is None or figure.estimate is None or known is None or not limit:
        return

    def fails(retries: float) -> float:
        return _solved(lambda f: math.fsum(f**k for k in range(1, limit + 1)), retries)

    others = (1 - fails(known)) / ((1 - air.loss) * (1 - air.acknowledge_loss))
    passes = _each(figure.estimate, lambda retries: (1 - fails(retries)) / others)
    text = f"retries a frame of {name} {interval_text(figure.estimate, '', 4)}"
    # Both ways are alike, or only the way out loses.
    yield True, _losing(_each(passes, lambda p: 1 - math.sqrt(max(p, 0.0))), text, both=True)
    left = 1 - air.acknowledge_loss
    yield False, _losing(_each(passes, lambda p: 1 - p / left), text, both=False)


def _from_missing(
    scenario: Scenario, name: str, figures: Mapping[str, Figure], simulated: Sequence[Values]
) -> Iterator[tuple[bool, Setting]]:
    """A frame is missing if none of its attempts came."""
    unit = scenario.transmitter[name]
    figure, known = figures.get(f"missing.{name}"), usual(simulated, f"missing.{name}")
    if figure is None or figure.estimate is None or known is None or not figure.value:
        return
    tries = 1 + (unit.retry_limit if unit.acknowledge is True else 0)

    def lost(missing: float) -> float:
        return math.pow(max(0.0, missing / 100), 1 / tries)

    others = (1 - lost(known)) / (1 - scenario.air.loss)
    found = _each(figure.estimate, lambda missing: 1 - (1 - lost(missing)) / others)
    text = f"frames of {name} missing {interval_text(figure.estimate, '%', 4)}"
    yield tries > 1, _losing(found, text, both=tries > 1)


def _each(found: Estimate, by: Callable[[float], float]) -> Estimate:
    ends = sorted((by(found.low), by(found.high)))
    return Estimate(value=by(found.value), low=ends[0], high=ends[1])


def _solved(rises: Callable[[float], float], target: float) -> float:
    """Where in 0 to 1 a function that rises from 0 reaches its target, or comes nearest to it."""
    from scipy.optimize import brentq  # noqa: PLC0415 - loads slowly

    within = min(max(target, 0.0), rises(1.0))
    return float(brentq(lambda x: rises(x) - within, 0.0, 1.0))


def _losing(found: Estimate, text: str, *, both: bool) -> Setting:
    share = f"{min(1.0, max(0.0, found.value)):.3g}"
    lines = (f"air.loss={share}", *((f"air.acknowledge_loss={share}",) if both else ()))
    return Setting(lines=lines, measured=text, value=found.value, low=found.low, high=found.high)


def _bursts(figures: Mapping[str, Figure]) -> Iterator[Setting]:
    """Two states of the air, as the stream with the longest runs of losses has them."""
    keys = [key for key in figures if key.startswith("loss_run.")]
    if not keys:
        return
    key = max(keys, key=lambda one: figures[one].value)
    name, found = key.partition(".")[2], figures[key].estimate
    period, missing = figures.get(f"period.{name}"), figures.get(f"missing.{name}")
    if period is None or missing is None or found is None:
        return
    share = missing.value / 100
    bads = [bad_ms(run, share, period.value) for run in (found.value, found.low, found.high)]
    value, low, high = bads
    if value is None or high is None:
        return
    good_ms = value * (1 - share) / share
    yield Setting(
        lines=(
            f"air.burst={{ good_ms = {good_ms:.4g}, bad_ms = {value:.4g} }}",
            "air.loss=0",
            "air.acknowledge_loss=0",
        ),
        measured=f"frames of {name} missing in a row, mean {interval_text(found, '', 4)}",
        value=value,
        low=low or 0.0,
        high=high,
    )


def bad_ms(run: float, share: float, period_ms: float) -> float | None:
    """Mean length of bad bursts of which frames so far apart show runs of losses of a mean length.

    A chain of two states in continuous time, seen once a period: with a share π of it bad, it is
    bad again a period later with 1 − 1/run = π + (1 − π)·exp(−period/((1 − π)·bad)) (as E. N.
    Gilbert, "Capacity of a burst-noise channel", Bell Syst. Tech. J. 39, 1960, whose chain it is).
    None where losses are no longer in a row than by chance.
    """
    if not 0 < share < 1 or run < 1:
        return None
    together = (1 - 1 / run - share) / (1 - share)
    return None if together <= 0 else -period_ms / ((1 - share) * math.log(together))
