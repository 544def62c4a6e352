"""Causes that hide each other are all told, and what a cure uncovers is looked for."""

import pytest

from tests.findings.cases import run_of

NEAR = "air.range={distance_m=3, path='free-space'}"
JAMMER = "interferer.jam={kind='jammer', channel_mhz=2468, power_dbm_at_receiver=-45}"
NETWORK = "interferer.net={kind='bursts', channel_mhz=2462, duty=%g, power_dbm_at_receiver=-40}"
WORK = "receiver.work=[{every_ms=120, takes_ms=70}]"
ONE = ("receiver.read=one", "receiver.loop_ms=%g")
PAIRS = [
    (("interferer.jam", "interferer.net"), (NEAR, JAMMER, NETWORK % 0.5)),
    (("interferer.jam", "interferer.net"), (NEAR, JAMMER, NETWORK % 0.2)),
    (("receiver.work", "receiver.read"), (WORK, ONE[0], ONE[1] % 16)),
    (("receiver.work", "receiver.read"), (WORK, ONE[0], ONE[1] % 25)),
    (("receiver.work", "receiver.delay_ms"), (WORK, "receiver.delay_ms=60")),
    (("receiver.delay_ms", "receiver.read"), (ONE[0], ONE[1] % 16, "receiver.delay_ms=60")),
    (
        ("receiver.deaf", "transmitter.drive.power_dbm"),
        (
            "receiver.deaf=[{every_ms=50, for_ms=8}]",
            "air.range={distance_m=120, path='free-space', fading='rician'}",
        ),
    ),
    (
        ("interferer.jam", "transmitter.drive.power_dbm"),
        (JAMMER, "air.range={distance_m=120, path='free-space', fading='rician'}"),
    ),
]


@pytest.mark.parametrize(("causes", "keys"), PAIRS)
def test_two_that_hide_each_other_are_told_and_the_cured_link_shows_nothing_new(
    causes: tuple[str, ...], keys: tuple[str, ...]
) -> None:
    run = run_of(*keys)
    found = {one.where: one for one in run.findings or ()}

    assert set(causes) <= set(found)
    assert run.cure is not None
    assert all(found[where].set for where in causes)
    after = run_of(*keys, *run.cure.set)
    assert {one.where for one in after.findings or ()} <= set(found)


def test_what_was_hidden_is_proved_without_what_hid_it() -> None:
    run = run_of(NEAR, JAMMER, NETWORK % 0.5)
    (jammer,) = (one for one in run.findings or () if one.where == "interferer.jam")
    (network,) = (one for one in run.findings or () if one.where == "interferer.net")

    assert (jammer.seen, network.seen) == ("alone", "behind")
    assert network.proof["before"] == jammer.proof["after"]
    assert network.set == jammer.set
