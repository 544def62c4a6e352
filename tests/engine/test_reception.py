"""What becomes of a signal at the receiver, and of an acknowledgement at its transmitter."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.chance import ONE_53, threshold_53
from radiosim.engine.plan import make_plan
from radiosim.engine.plan_rows import ACKNOWLEDGING, FLAGGED, PLAIN, Rx, Tx, Work
from radiosim.engine.rules.noise import noise_is_acknowledged
from radiosim.engine.rules.reception import (
    acceptance,
    catches,
    checks_duplicates,
    deaf_span_meets,
    draws,
    hearing,
    is_acknowledged,
    is_deaf_between,
    locks,
    takes_acknowledgement,
    takes_attempt,
)
from radiosim.engine.rules.timing import grid_point
from radiosim.trace import CHANCE, COLLISION, DEAF, DUPLICATE, FULL, NEW, OFF, OUT_OF_RANGE
from tests.traces import scenario_with

PLAN = make_plan(scenario_with(), 0)
TX, RX = PLAN.tx[0], PLAN.rx

spans = st.builds(
    Work,
    offset_ns=st.integers(0, 60),
    every_ns=st.integers(20, 90),
    takes_ns=st.integers(1, 17),
    interrupts_off=st.just(0),
)
receivers = st.builds(
    lambda deaf, ppb: RX._replace(ppb=ppb, deafs=len(deaf), deaf=tuple(deaf)),
    st.lists(spans, max_size=2),
    st.sampled_from([0, 0, 50_000_000, -100_000_000]),
)


@given(receivers, st.integers(0, 100), st.integers(0, 500), st.integers(1, 120))
def test_a_deaf_span_meets_a_signal_if_they_share_an_instant(
    rx: Rx, base_ns: int, wait_ns: int, length_ns: int
) -> None:
    start_ns = base_ns + wait_ns
    end_ns = start_ns + length_ns
    began = [
        (base_ns + span.offset_ns + grid_point(k, span.every_ns, rx.ppb), span.takes_ns)
        for span in rx.deaf
        for k in range(60)
    ]

    expected = any(at < end_ns and start_ns < at + takes for at, takes in began)

    assert deaf_span_meets(rx, base_ns, start_ns, end_ns) == expected


def test_the_first_cause_that_applies_is_the_cause() -> None:
    assert hearing(5, 6, 7, True, True, True) == OFF
    assert hearing(6, 6, 7, True, True, True) == OUT_OF_RANGE
    assert hearing(6, 6, 7, False, True, True) == DEAF
    assert hearing(6, 6, 7, False, False, True) == DEAF
    assert hearing(7, 6, 7, False, True, True) == DEAF
    assert hearing(7, 6, 7, False, False, True) == COLLISION
    assert hearing(7, 6, 7, False, False, False) == NEW


def test_a_full_fifo_takes_nothing_not_even_duplicates() -> None:
    assert acceptance(False, 2, 3) == NEW
    assert acceptance(True, 2, 3) == DUPLICATE
    assert acceptance(False, 3, 3) == FULL
    assert acceptance(True, 3, 3) == FULL


@pytest.mark.parametrize("fate", [NEW, DUPLICATE, FULL, OFF, DEAF, COLLISION, CHANCE])
def test_what_is_kept_or_known_is_acknowledged_if_it_asked(fate: int) -> None:
    assert is_acknowledged(fate, ACKNOWLEDGING, 0) == (fate in (NEW, DUPLICATE))
    assert is_acknowledged(fate, ACKNOWLEDGING, 1) == (fate in (NEW, DUPLICATE, FULL))
    assert not is_acknowledged(fate, FLAGGED, 1)
    assert not is_acknowledged(fate, PLAIN, 1)


def test_only_the_plain_format_has_no_packet_number() -> None:
    assert not checks_duplicates(PLAIN)
    assert checks_duplicates(FLAGGED)
    assert checks_duplicates(ACKNOWLEDGING)


def test_a_transmitter_catches_what_it_hears_from_the_first_bit() -> None:
    assert catches(TX, 1_000, 1_000)
    assert not catches(TX, 1_001, 1_000)


def test_an_acknowledgements_address_must_be_complete_within_the_window() -> None:
    latest_ns = 1_000 + TX.window_ns - TX.ack_address_ns

    assert catches(TX, 1_000, latest_ns)
    assert not catches(TX, 1_000, latest_ns + 1)


def test_a_frame_holds_the_receiver_from_its_matched_address_on() -> None:
    assert not locks(100, 48, 10**9, 147)
    assert locks(100, 48, 10**9, 148)
    assert locks(100, 48, 148, 200), "spoilt after its address: it still holds"
    assert not locks(100, 48, 147, 200), "spoilt before: it never matched"


def losses(tx: Tx, frame: int, attempt: int) -> tuple[bool, bool]:
    """What chance takes in a good burst: an attempt, its acknowledgement."""
    one, other = draws(tx, frame, attempt)
    return takes_attempt(tx, one, False), takes_acknowledgement(tx, other, False)


def test_chance_takes_nothing_or_all_at_its_ends() -> None:
    never = TX._replace(loss_53=0, ack_loss_53=0)
    always = TX._replace(loss_53=ONE_53, ack_loss_53=ONE_53)

    assert all(losses(never, frame, 1) == (False, False) for frame in range(50))
    assert all(losses(always, frame, 1) == (True, True) for frame in range(50))


def test_chance_takes_its_share_of_attempts_and_of_acknowledgements() -> None:
    tx = TX._replace(loss_53=threshold_53(0.1), ack_loss_53=threshold_53(0.3))
    drawn = [losses(tx, frame, attempt) for frame in range(2_000) for attempt in (1, 2)]

    # Four standard deviations of 4,000 trials.
    assert sum(lost for lost, _ in drawn) == pytest.approx(400, abs=76)
    assert sum(lost for _, lost in drawn) == pytest.approx(1_200, abs=116)


def test_another_loss_leaves_the_draws_alone() -> None:
    low, high = (TX._replace(loss_53=threshold_53(p), ack_loss_53=1) for p in (0.1, 0.2))

    for frame in range(300):
        assert losses(high, frame, 1)[0] >= losses(low, frame, 1)[0]


def test_a_program_that_hangs_deaf_stays_deaf_and_one_that_hangs_listening_listens() -> None:
    # Deaf in 100…120, 200…220 and so on.
    rx = RX._replace(ppb=0, deafs=1, deaf=(Work(100, 100, 20, 0, 20),))

    def deaf(paused_ns: int, resumed_ns: int, start_ns: int, end_ns: int) -> bool:
        return is_deaf_between(rx, 0, paused_ns, resumed_ns, start_ns, end_ns)

    assert deaf(110, 1_000, 150, 160)
    assert not deaf(150, 1_000, 205, 215)
    assert deaf(150, 1_000, 110, 160)
    assert deaf(150, 1_000, 990, 1_001)
    assert not deaf(150, 1_020, 990, 1_050)
    assert deaf(0, 0, 205, 215)


@pytest.mark.parametrize("when_full", [0, 1])
def test_noise_that_finds_the_fifo_full_is_acknowledged_as_any_frame(when_full: int) -> None:
    rx = make_plan(scenario_with(), 0).rx._replace(acknowledge_when_full=when_full)

    assert noise_is_acknowledged(rx, FULL, ACKNOWLEDGING, 1) == bool(when_full)
    assert noise_is_acknowledged(rx, NEW, ACKNOWLEDGING, 1)
    assert not noise_is_acknowledged(rx, NEW, ACKNOWLEDGING, 0)
    assert not noise_is_acknowledged(rx, NEW, PLAIN, 1)


def test_chance_takes_each_way_by_its_own_loss_in_good_air_and_in_bad() -> None:
    tx = TX._replace(loss_53=1, ack_loss_53=2, bad_loss_53=3, bad_ack_loss_53=4)

    def losses(takes: Callable[[Tx, int, bool], bool], is_bad: bool) -> int:
        """How many of the five smallest draws are lost."""
        return sum(takes(tx, drawn_53, is_bad) for drawn_53 in range(5))

    assert [losses(takes_attempt, is_bad) for is_bad in (False, True)] == [1, 3]
    assert [losses(takes_acknowledgement, is_bad) for is_bad in (False, True)] == [2, 4]
