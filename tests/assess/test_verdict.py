import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.assess.answers import verdict
from radiosim.scenario import parse
from radiosim.study.starts import simulate_starts
from tests.examples import examples
from tests.report.printing import QUIET, TINY, printed, told, with_faults, with_stream
from tests.report.samples import fault, one_start, scenario, several_starts, stream


@pytest.mark.parametrize(
    ("longest_gap_ms", "word"),
    [(125.0, "steady"), (125.1, "gaps"), (250.0, "gaps"), (250.1, "starves")],
)
def test_a_verdict_compares_the_longest_gap_with_the_timeout(
    longest_gap_ms: float, word: str
) -> None:
    summary = with_faults(with_stream(one_start(), "drive", stream(QUIET, longest_gap_ms)))

    assert verdict(summary, scenario(), "drive") == word


# The fault is at 40 s, for 5 s.
@pytest.mark.parametrize(
    ("longest_gap_at_s", "longest_gap_ms", "word"),
    [
        (39.99, 5100.0, "cut by fault"),
        (45.2, 300.0, "cut by fault"),
        (45.4, 300.0, "starves"),
        (39.6, 300.0, "starves"),
    ],
)
def test_a_long_wait_is_excused_only_by_a_fault_that_lies_in_it(
    longest_gap_at_s: float, longest_gap_ms: float, word: str
) -> None:
    figures = msgspec.structs.replace(
        stream(QUIET, longest_gap_ms), longest_gap_at_s=longest_gap_at_s
    )

    assert verdict(with_stream(one_start(), "drive", figures), scenario(), "drive") == word


@pytest.mark.parametrize(
    "changes", [{"unit": "head"}, {"at_s": 600.0}, {"kind": "stale"}, {"kind": "power_on"}]
)
def test_a_fault_that_cuts_nothing_is_no_excuse(changes: dict[str, object]) -> None:
    summary = with_stream(one_start(), "drive", stream(QUIET, 5100.0))
    other = msgspec.structs.replace(fault(), **changes)

    assert verdict(with_faults(summary, other), scenario(), "drive") == "starves"


def test_a_nuisance_trip_is_starving_even_with_faults() -> None:
    assert verdict(several_starts(), scenario(), "drive") == "starves"


@pytest.mark.parametrize(
    ("read", "word"),
    [(27_001, "steady"), (26_999, "gaps"), (15_001, "gaps"), (14_999, "starves")],
)
def test_a_verdict_looks_at_the_share_that_was_read(read: int, word: str) -> None:
    figures = msgspec.structs.replace(stream(QUIET, 100.0), read=read)
    summary = with_faults(with_stream(one_start(), "drive", figures))

    assert verdict(summary, scenario(), "drive") == word


def test_a_receiver_that_is_off_half_the_time_makes_no_stream_starve() -> None:
    figures = msgspec.structs.replace(stream(QUIET, 300_000.0), read=14_999)
    off = msgspec.structs.replace(fault(), unit="receiver", over_ms=300_000.0)
    summary = with_faults(with_stream(one_start(), "drive", figures), off)

    assert verdict(summary, scenario(), "drive") == "cut by fault"


@given(st.floats(0, 8), st.floats(0, 8), st.integers(0, 99))
@examples(15)
def test_no_boot_makes_a_quiet_link_starve_however_short_the_run(
    receiver_s: float, drive_s: float, seed: int
) -> None:
    booted = parse(
        f"seed = {seed}\nduration_s = 10\nradio.profile = 'gfsk-1M'\nair.loss = 0\n"
        f"receiver.boot_s = {receiver_s:.3f}\n[transmitter.drive]\nboot_s = {drive_s:.3f}\n"
        "payload_bytes = 6\nperiod_ms = 20\n[failsafe.drive]\ntimeout_ms = 250\n"
    )

    assert verdict(simulate_starts(booted, count=1, workers=1), booted, "drive") == "steady"


def test_without_failsafe_ten_periods_stand_for_the_timeout() -> None:
    summary = with_stream(one_start(), "head", stream(None, 200.1))

    assert verdict(summary, scenario(), "head") == "starves"


def test_a_stream_that_is_never_read_is_silent() -> None:
    figures = msgspec.structs.replace(stream(None, 600_000.0), read=0)
    summary = with_stream(one_start(), "head", figures)

    assert "! head: none of its 30,000 frames was ever read" in printed(summary)


def test_a_slow_receiver_is_told_without_any_requirement() -> None:
    text = told(TINY + "receiver.delay_ms = 60")

    assert "! drive STARVES: only 3" in text
    assert "% of its samples were read; most attempts found the receiver's FIFO full; gaps" in text


def test_a_busy_radio_is_told() -> None:
    text = told(TINY.replace("= 20", "= 0.4").replace("duration_s = 6", "duration_s = 1"))

    assert "% of samples skipped: the radio is still busy; 0.4 ms is too short for 3" in text


@pytest.mark.parametrize(("longest_gap_at_s", "is_explained"), [(39.99, True), (20.0, False)])
def test_a_gap_that_a_fault_explains_is_no_sign_of_starving(
    longest_gap_at_s: float, is_explained: bool
) -> None:
    counted = several_starts().figures.stream["drive"].failsafe
    assert counted is not None
    figures = msgspec.structs.replace(stream(counted, 5100.0), longest_gap_at_s=longest_gap_at_s)
    text = printed(with_stream(one_start(), "drive", figures))

    (line,) = (line for line in text.splitlines() if line.startswith("! drive STARVES"))
    assert ("gaps of up to" in line) != is_explained
    assert ("(a fault of the scenario in it)" in " ".join(text.split())) == is_explained
