"""`smallest` is the four lines, and says what it assumed."""

from tests.scenarios.shortened import summary_of, text_of

THE_FOUR_LINES = (
    'radio.profile = "gfsk-1M"',
    "transmitter.drive = { period_ms = 20, payload_bytes = 6 }",
    "transmitter.head = { period_ms = 20, payload_bytes = 4 }",
    "failsafe.drive = { timeout_ms = 250 }",
)


def test_smallest_is_four_lines() -> None:
    lines = text_of("smallest").splitlines()

    assert tuple(line for line in lines if line and not line.startswith("#")) == THE_FOUR_LINES


def test_smallest_says_that_look_has_no_failsafe() -> None:
    summary = summary_of("smallest", 2, "duration_s=10")

    assert summary.figures.stream["head"].failsafe is None
    assert any("head: NO FAILSAFE" in line for line in summary.assumed)


def test_smallest_is_warned_of_its_equal_retry_delays() -> None:
    warnings = summary_of("smallest", 2, "duration_s=10").warnings

    assert any(line.startswith("transmitter.head.retry_delay_us: 500") for line in warnings)
