"""Chances and levels of a start's plan."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.chance import ONE_53
from radiosim.engine.plan_air import chances_of
from radiosim.scenario import parse

SCENARIO = """
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = {{ period_ms = 20, payload_bytes = 6 }}
air = {{ loss = {loss}, acknowledge_loss = {back}, burst = {{ good_ms = 40, bad_ms = 10, \
loss_good = {good}, loss_bad = {bad} }} }}
"""
shares = st.integers(0, 1000).map(lambda share: share / 1000)


@given(loss=shares, back=shares, good=shares, bad=shares)
def test_losses_of_the_air_and_of_its_bursts_are_independent(
    loss: float, back: float, good: float, bad: float
) -> None:
    given = parse(SCENARIO.format(loss=loss, back=back, good=good, bad=bad))
    chances = chances_of(given, given.transmitter["drive"])

    for found, one, other in (
        (chances.loss_53, loss, good),
        (chances.bad_loss_53, loss, bad),
        (chances.ack_loss_53, back, good),
        (chances.bad_ack_loss_53, back, bad),
    ):
        assert found / ONE_53 == pytest.approx(1 - (1 - one) * (1 - other), abs=1e-12)
