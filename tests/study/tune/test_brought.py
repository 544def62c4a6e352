"""Warnings that settings bring."""

from radiosim.study.tune.brought import brought
from tests.study.tune.scenarios import two

SHORT = "transmitter.head.period_ms=8"
MANY = "transmitter.head.retry_limit=15"


def test_a_period_that_its_retries_do_not_fit_is_brought() -> None:
    (text,) = brought(two(), (SHORT, MANY))

    assert text.startswith("transmitter.head.period_ms: 8 is shorter than a frame with all its")


def test_what_the_scenario_is_warned_of_anyway_is_not() -> None:
    assert brought(two(SHORT, MANY), ("transmitter.drive.period_ms=21",)) == ()


def test_no_change_brings_nothing() -> None:
    assert brought(two(SHORT, MANY), ()) == ()
