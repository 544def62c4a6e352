"""What the receiver's program does with what it reads."""

from dataclasses import dataclass, field

from hypothesis import given
from hypothesis import strategies as st

from radiosim.scenario import Scenario
from radiosim.trace import LOST, READ, THROWN_AWAY, WAITING, ReadRow
from radiosim.units import NS_PER_MS, ns_from_ms
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED, WRITTEN
from radiosim.vehicle.vehicle import StreamRecord, run_vehicle
from tests.examples import examples
from tests.traces import ms, read, scenario_with, trace_of

ANY = 'failsafe.drive.fed_by="any"'


def drive(
    scenario: Scenario,
    reads: list[ReadRow],
    passes: list[tuple[int, int, int]] | None = None,
) -> StreamRecord:
    """The record of the first stream."""
    return run_vehicle(trace_of(scenario, reads, passes)).streams[0]


def entries(record: StreamRecord) -> list[tuple[float, float, bool]]:
    return [(ms(entry.at_ns), ms(entry.fed_ns), entry.is_true) for entry in record.entries]


def events(record: StreamRecord, *kinds: int) -> list[float]:
    return [ms(event.at_ns) for event in record.events if event.kind in kinds]


def every(period_ms: int, first_ms: int, last_ms: int) -> list[ReadRow]:
    """Frames of the first stream, one a period."""
    return [read(at, n) for n, at in enumerate(range(first_ms, last_ms + 1, period_ms))]


def test_failsafe_starts_on_which_is_no_entry() -> None:
    record = drive(scenario_with(), [])

    assert record.entries == ()
    assert record.on_ns == 0
    assert events(record, STARTED, STOPPED, WRITTEN, FAILSAFE) == [0]


def test_a_frame_read_is_written_in_the_same_pass() -> None:
    record = drive(scenario_with(), [read(10, 0), read(30, 1)])

    assert events(record, WRITTEN) == [10, 30]
    assert [event.read for event in record.events if event.kind == WRITTEN] == [0, 1]


def test_of_several_frames_in_one_pass_the_last_is_written() -> None:
    record = drive(scenario_with("receiver.read='all'"), [read(10, 0), read(10, 1)])

    assert [event.read for event in record.events if event.kind == WRITTEN] == [1]


def test_failsafe_comes_on_at_the_first_pass_past_the_timeout() -> None:
    record = drive(scenario_with(), [read(200, 0)])

    assert entries(record) == [(301, 200, False)]
    assert events(record, FAILSAFE) == [301]


def test_a_clock_in_steps_finds_the_timeout_over_up_to_a_step_later() -> None:
    # Steps of 30 ms: 200 reads as 180, and 300 as 300: 120 is past 100, 90 (at 299) is not.
    late = scenario_with("receiver.clock_tick_ms=30")
    # Steps of 10 ms: 200 reads as 200: 310 is the first that is past 300.
    later = scenario_with("receiver.clock_tick_ms=10")

    assert entries(drive(late, [read(200, 0)])) == [(300, 200, False)]
    assert entries(drive(later, [read(200, 0)])) == [(310, 200, False)]
    assert entries(drive(later, [read(209, 0)])) == [(310, 209, False)]


def test_frames_in_a_row_are_counted_by_a_clock_in_steps_too() -> None:
    steps = scenario_with("receiver.clock_tick_ms=10", "failsafe.drive.resume_frames=2")

    # 300 to 409 reads as 300 to 400, which is a row yet.
    assert events(drive(steps, [read(300, 0), read(409, 1)]), WRITTEN) == [409]
    assert events(drive(steps, [read(300, 0), read(410, 1)]), WRITTEN) == []


def test_a_frame_in_the_pass_that_would_trip_comes_in_time() -> None:
    assert (
        entries(drive(scenario_with(), [read(200, 0), read(301, 1), *every(50, 350, 1999)])) == []
    )
    assert entries(drive(scenario_with(), [read(200, 0), read(302, 1), *every(50, 350, 1999)])) == [
        (301, 200, False)
    ]


def test_the_receivers_slow_clock_stretches_timeout_and_passes() -> None:
    record = drive(scenario_with("receiver.clock_ppm=100000", "receiver.loop_ms=10"), [read(11, 0)])

    # 110 ms of timeout; the pass that read takes 1 ms by hand, those after it 11 ms.
    assert entries(record) == [(122, 11, False)]


def test_failsafe_time_is_counted_from_entries_to_their_end() -> None:
    record = drive(scenario_with(), [read(200, 0), read(500, 1)])

    assert entries(record) == [(301, 200, False), (601, 500, False)]
    assert record.on_ns == (500 - 301 + 2000 - 601) * NS_PER_MS


def test_what_is_latched_in_failsafe_is_written_at_its_end() -> None:
    record = drive(scenario_with("failsafe.drive.resume_frames=2"), [read(200, 0), read(220, 1)])

    assert events(record, WRITTEN) == [220]


def test_resuming_takes_that_many_frames_in_a_row() -> None:
    reads = [read(200, 0), read(300, 1), read(401, 2), read(450, 3), read(551, 4)]

    record = drive(scenario_with("failsafe.drive.resume_frames=3"), reads)

    # 300 to 401 is longer than the timeout, and so is 450 to 551: never three in a row.
    assert events(record, WRITTEN) == []


def test_a_gap_of_just_the_timeout_is_still_a_row() -> None:
    record = drive(
        scenario_with("failsafe.drive.resume_frames=3"), [read(200, 0), read(300, 1), read(400, 2)]
    )

    assert events(record, WRITTEN) == [400]


def test_an_entry_starts_the_row_afresh() -> None:
    reads = [read(100, 0), read(150, 1), read(400, 2), read(420, 3)]

    record = drive(scenario_with("failsafe.drive.resume_frames=2"), reads)

    assert events(record, WRITTEN) == [150, 420]


def test_frames_thrown_away_do_not_count() -> None:
    reads = [
        read(200, 0, outcome=THROWN_AWAY),
        read(200, 1),
        read(220, 2, outcome=THROWN_AWAY),
        read(230, 3, outcome=THROWN_AWAY),
        read(240, 4),
    ]

    record = drive(scenario_with("receiver.read='newest'", "failsafe.drive.resume_frames=2"), reads)

    assert events(record, WRITTEN) == [240]


def test_frames_that_were_never_read_feed_nothing() -> None:
    reads = [read(10, 0), read(60, 1, outcome=LOST), read(90, 2), read(150, 3, outcome=WAITING)]

    record = drive(scenario_with(), reads)

    assert entries(record) == [(191, 90, False)]


def test_resuming_waits_for_a_field_near_neutral() -> None:
    # The throttle stands at 0, 1, −0.5 and 0.25, a tenth of a second each.
    scenario = scenario_with("failsafe.drive.resume_needs={field='throttle', within=0.3}")

    record = drive(scenario, [read(150, 0), read(250, 1), read(350, 2), read(450, 3)])

    assert events(record, WRITTEN) == [350, 450]


def test_once_resumed_the_field_may_go_anywhere() -> None:
    scenario = scenario_with("failsafe.drive.resume_needs={field='throttle', within=0.0}")

    record = drive(scenario, [read(50, 0), read(150, 1), read(250, 2)])

    assert events(record, WRITTEN) == [50, 150, 250]


def test_a_timer_fed_by_any_is_fed_by_the_other_stream() -> None:
    head = [read(at, n, stream=1) for n, at in enumerate(range(210, 2000, 50))]

    assert entries(drive(scenario_with(), [read(200, 0), *head])) == [(301, 200, False)]
    assert entries(drive(scenario_with(ANY), [read(200, 0), *head])) == []


def test_with_any_the_old_latched_value_comes_alive() -> None:
    record = drive(scenario_with(ANY), [read(200, 0), read(400, 0, stream=1)])

    assert entries(record) == [(301, 200, False), (501, 400, False)]
    assert [(ms(e.at_ns), e.read) for e in record.events if e.kind == WRITTEN] == [
        (200, 0),
        (400, 0),
    ]


def test_with_any_a_stream_that_never_sent_has_nothing_to_write() -> None:
    record = drive(scenario_with(ANY), [read(400, 0, stream=1)])

    assert events(record, WRITTEN) == []


def test_a_watched_counter_that_stands_still_feeds_nothing() -> None:
    scenario = scenario_with("failsafe.drive.watch_field='count'")
    stale = [read(at, n, values_frame=1) for n, at in enumerate(range(20, 400, 20), 1)]

    record = drive(scenario, [read(0, 0), *stale])

    assert entries(record) == [(121, 20, False)]
    assert events(record, FAILSAFE) == [121]


def test_a_watched_counter_that_goes_on_again_resumes() -> None:
    scenario = scenario_with("failsafe.drive.watch_field='count'")
    stale = [read(at, n, values_frame=0) for n, at in enumerate(range(0, 300, 20))]

    record = drive(scenario, [*stale, read(300, 15), read(320, 16)])

    assert entries(record)[0][0] == 101
    assert [at for at in events(record, WRITTEN) if at > 101] == [300, 320]


def test_without_a_watched_field_a_frozen_transmitter_passes() -> None:
    stale = [read(at, n, values_frame=0, values_ms=0) for n, at in enumerate(range(0, 2000, 20))]

    assert entries(drive(scenario_with(), stale)) == []


def test_fed_at_arrival_counts_from_when_the_radio_got_it() -> None:
    scenario = scenario_with("failsafe.drive.fed_at='arrival'")

    assert entries(drive(scenario, [read(200, 0, accepted_ms=150.2)])) == [(251, 150.2, False)]
    assert entries(drive(scenario_with(), [read(200, 0, accepted_ms=150.2)])) == [(301, 200, False)]


def test_fed_at_arrival_a_frame_that_waits_feeds_before_it_is_read() -> None:
    scenario = scenario_with("failsafe.drive.fed_at='arrival'")
    reads = [read(200, 0), read(310, 1, accepted_ms=290)]

    assert entries(drive(scenario, reads)) == [(391, 290, False)]


def test_fed_at_arrival_a_frame_older_than_the_timeout_clears_nothing() -> None:
    scenario = scenario_with("failsafe.drive.fed_at='arrival'")
    reads = [read(10, 0), read(300, 1, accepted_ms=20)]

    record = drive(scenario, reads)

    assert entries(record) == [(121, 20, False)]
    assert events(record, WRITTEN) == [10]


def test_an_interrupt_reads_at_once_and_the_next_pass_writes() -> None:
    scenario = scenario_with("receiver.interrupt=true")
    pass_ = (ns_from_ms(10), ns_from_ms(11.028), 2)

    record = drive(scenario, [read(10.3, 0), read(10.6, 1)], [pass_])

    assert [(ms(e.at_ns), e.read) for e in record.events if e.kind == WRITTEN] == [(11.028, 1)]
    # Passes go on from the stretched one, every millisecond.
    assert entries(record) == [(111.028, 10.6, False)]


def test_interrupts_feed_the_timer_between_passes() -> None:
    scenario = scenario_with(
        "receiver.interrupt=true", "receiver.loop_ms=50", "failsafe.drive.timeout_ms=20"
    )
    reads = [read(at, n) for n, at in enumerate((10, 20, 30, 40, 45))]

    record = drive(scenario, reads, [(0, ns_from_ms(50), 5)])

    assert entries(record) == [(100, 45, False)]
    assert events(record, WRITTEN) == [50]


def test_an_interrupt_that_comes_after_the_trip_clears_it() -> None:
    scenario = scenario_with("receiver.interrupt=true")
    passes = [(ns_from_ms(10), ns_from_ms(11), 1), (ns_from_ms(200), ns_from_ms(201), 1)]

    record = drive(scenario, [read(10.5, 0), read(200.5, 1)], passes)

    assert entries(record) == [(111, 10.5, False), (301, 200.5, False)]
    assert events(record, WRITTEN) == [11, 201]


def fault(kind: str, at_s: float, for_s: float, unit: str = "receiver") -> str:
    return f"fault=[{{at_s={at_s}, for_s={for_s}, kind='{kind}', unit='{unit}'}}]"


def test_an_entry_while_the_transmitter_was_off_is_true() -> None:
    scenario = scenario_with(fault("power_off", 0.25, 0.02, "drive"))

    assert entries(drive(scenario, [read(200, 0)])) == [(301, 200, True)]


def test_a_fault_of_another_transmitter_makes_no_entry_true() -> None:
    scenario = scenario_with(fault("power_off", 0.25, 0.02, "head"))

    assert entries(drive(scenario, [read(200, 0)])) == [(301, 200, False)]


def test_a_fault_that_was_over_before_the_last_feed_makes_no_entry_true() -> None:
    scenario = scenario_with(fault("power_off", 0.05, 0.02, "drive"))

    assert entries(drive(scenario, [read(200, 0)])) == [(301, 200, False)]


def test_frozen_values_block_only_a_timer_that_watches() -> None:
    stale = fault("stale", 0.25, 0.3, "drive")
    watching = scenario_with(stale, "failsafe.drive.watch_field='count'")

    assert entries(drive(scenario_with(stale), [read(200, 0)])) == [(301, 200, False)]
    assert entries(drive(watching, [read(200, 0)])) == [(301, 200, True)]


def test_a_reset_makes_the_program_start_afresh() -> None:
    scenario = scenario_with(fault("reset", 0.25, 0.01), "receiver.boot_s=0.05")
    reads = [read(200, 0), read(400, 1)]

    record = drive(scenario, reads)

    # The first boot is over at 50 ms, the second at 300 ms: no trip, for the timer starts on.
    assert events(record, STARTED) == [50, 300]
    assert events(record, STOPPED) == [250]
    assert entries(record) == [(501, 400, False)]
    assert events(record, WRITTEN) == [200, 400]


def test_a_reset_ends_the_time_in_failsafe() -> None:
    scenario = scenario_with(fault("reset", 0.35, 0.01))

    record = drive(scenario, [read(200, 0)])

    assert entries(record) == [(301, 200, False)]
    assert record.on_ns == (350 - 301) * NS_PER_MS


def test_a_hung_program_sees_its_timer_run_out_when_it_goes_on() -> None:
    scenario = scenario_with(fault("hang", 0.2505, 0.5))

    record = drive(scenario, [read(200, 0)])

    # It stood for 500 ms: the pass due at 251 ms comes at 751 ms.
    assert entries(record) == [(751, 200, True)]


def test_a_hang_that_is_short_moves_the_passes_only() -> None:
    scenario = scenario_with(fault("hang", 0.2505, 0.0004))

    assert entries(drive(scenario, [read(200, 0)])) == [(300.4, 200, True)]


def test_a_hung_program_writes_what_was_read_when_it_goes_on() -> None:
    scenario = scenario_with("receiver.interrupt=true", fault("hang", 0.0106, 0.05))
    pass_ = (ns_from_ms(10), ns_from_ms(11), 1)

    record = drive(scenario, [read(10.5, 0)], [pass_])

    assert events(record, WRITTEN) == [61]


@dataclass
class Stepper:
    """The program once more, pass by pass, for one timer on the first stream."""

    timeout_ms: float
    resume_frames: int
    is_any: bool
    at_arrival: bool
    is_on: bool = True
    fed_ms: float = 0.0
    row: int = 0
    counted_ms: float = 0.0
    latched: int | None = None
    written: list[tuple[float, int]] = field(default_factory=list)
    entries: list[float] = field(default_factory=list)

    def arrive(self, stream: int, at_ms: float) -> None:
        if self.at_arrival and (self.is_any or stream == 0):
            self.fed_ms = at_ms

    def read(self, index: int, stream: int, now: float) -> bool:
        """One frame; true if something is to be written at the end of the pass."""
        if stream == 0:
            self.latched = index
        if not (self.is_any or stream == 0):
            return False
        if not self.at_arrival:
            self.fed_ms = now
        if self.row and now - self.counted_ms > self.timeout_ms:
            self.row = 0
        self.row, self.counted_ms = self.row + 1, now
        clears = (
            self.is_on and self.row >= self.resume_frames and now - self.fed_ms <= self.timeout_ms
        )
        self.is_on = self.is_on and not clears
        return clears or stream == 0

    def run(self, rows: list[ReadRow], passes: int) -> None:
        arrivals, waiting = list(rows), list(enumerate(rows))
        for now in range(passes):
            while arrivals and ms(arrivals[0].accepted_ns) <= now:
                row = arrivals.pop(0)
                self.arrive(row.stream, ms(row.accepted_ns))
            is_due = False
            while waiting and ms(waiting[0][1].read_ns) == now:
                index, row = waiting.pop(0)
                if row.outcome == READ:
                    is_due = self.read(index, row.stream, now) or is_due
            if not self.is_on and now - self.fed_ms > self.timeout_ms:
                self.is_on, self.row = True, 0
                self.entries.append(now)
            if is_due and not self.is_on and self.latched is not None:
                self.written.append((now, self.latched))


@st.composite
def read_rows(draw: st.DrawFn) -> list[ReadRow]:
    at_ms, accepted_ms, rows = 0, 0.0, []
    for frame in range(draw(st.integers(0, 12))):
        at_ms += draw(st.sampled_from([0, 1, 5, 19, 20, 21, 30, 70]))
        accepted_ms = max(accepted_ms, at_ms - draw(st.sampled_from([0.0, 0.5, 3.0, 25.0])))
        rows.append(
            read(
                at_ms,
                frame,
                stream=draw(st.integers(0, 1)),
                accepted_ms=accepted_ms,
                outcome=draw(st.sampled_from([READ, READ, READ, THROWN_AWAY])),
            )
        )
    return rows


@examples(150)
@given(
    read_rows(),
    st.sampled_from([20, 20.5, 40]),
    st.integers(1, 3),
    st.booleans(),
    st.booleans(),
)
def test_the_fold_does_what_single_passes_do(
    rows: list[ReadRow], timeout_ms: float, resume_frames: int, is_any: bool, at_arrival: bool
) -> None:
    scenario = scenario_with(
        f"failsafe.drive.timeout_ms={timeout_ms}",
        f"failsafe.drive.resume_frames={resume_frames}",
        f"failsafe.drive.fed_by='{'any' if is_any else 'own'}'",
        f"failsafe.drive.fed_at='{'arrival' if at_arrival else 'read'}'",
        "duration_s=0.8",
        "receiver.read='newest'",
    )
    stepper = Stepper(timeout_ms, resume_frames, is_any, at_arrival)
    stepper.run(rows, 800)

    record = drive(scenario, rows)

    assert [at for at, _, _ in entries(record)] == stepper.entries
    assert [(ms(e.at_ns), e.read) for e in record.events if e.kind == WRITTEN] == stepper.written
