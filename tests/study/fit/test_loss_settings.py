"""Loss that a log can tell, from closed forms beside chains that were drawn."""

import numpy as np
import pytest

from radiosim.bench_log.estimates import Estimate, run_length
from radiosim.study.fit.figure import Figure
from radiosim.study.fit.loss_settings import bad_ms, of_losses
from radiosim.study.fit.setting import Setting
from tests.study.fit.samples import link


def figure(key: str, value: float, low: float, high: float) -> Figure:
    estimate = Estimate(value=value, low=low, high=high)
    return Figure(
        key=key, of="drive", what=key, unit="", resolution=0.001, value=value, estimate=estimate
    )


def test_lengths_of_bad_bursts_come_back_from_the_frames_that_they_hit() -> None:
    """Good and bad alternate with exponential lengths, as rule C3 of model.md draws them."""
    rng = np.random.default_rng(3)
    good, bad, period = 700.0, 90.0, 20.0
    ends = np.cumsum(rng.exponential((good, bad), (40_000, 2)).ravel())
    instants = np.arange(0, ends[-1], period)
    seen = np.searchsorted(ends, instants) % 2 == 0

    found = run_length(seen)

    assert found is not None
    value, low, high = (
        bad_ms(run, float((~seen).mean()), period) for run in (found.value, found.low, found.high)
    )
    assert value == pytest.approx(bad, rel=0.03)
    assert low is not None
    assert high is not None
    assert low < bad < high


def test_losses_that_are_not_in_a_row_have_no_bursts() -> None:
    # By chance alone runs have a mean of 1/(1 − share).
    assert bad_ms(1 / (1 - 0.3), 0.3, 20) is None or bad_ms(1 / (1 - 0.3), 0.3, 20) < 1
    assert bad_ms(1.0, 0.3, 20) is None
    assert bad_ms(2.0, 0.0, 20) is None


def test_chance_loss_is_that_which_makes_as_many_retries() -> None:
    """An attempt fails with f; retries a frame are the sum of f to its powers up to the limit."""
    scenario = link().replace(
        **{"air.loss": 0.02, "air.acknowledge_loss": 0.02, "transmitter.drive.retry_limit": 3}
    )

    def retries(loss: float) -> float:
        fails = 1 - (1 - loss) ** 2
        return fails + fails**2 + fails**3

    measured = retries(0.2)
    key = "retries.drive"
    figures = {key: figure(key, measured, 0.95 * measured, 1.05 * measured)}

    both, only = of_losses(scenario, figures, [{key: retries(0.02)}])

    assert isinstance(both, Setting)
    assert both.lines == ("air.loss=0.2", "air.acknowledge_loss=0.2")
    assert both.low is not None
    assert both.high is not None
    assert both.low < 0.2 < both.high
    # Were no more acknowledgements lost than was said, more frames must be: (1 − p)·0.98 = 0.8².
    assert only.value == pytest.approx(1 - 0.64 / 0.98)
