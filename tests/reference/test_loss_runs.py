"""Nuisance trips of a failsafe timer against runs of independent losses.

Source: W. Feller, "An Introduction to Probability Theory and Its Applications", vol. I, XIII.7.
With loss p and q = 1 - p the mean number of frames to the first run of k losses is
(1 - p^k)/(q p^k), of variance 1/(q p^k)^2 - (2k + 1)/(q p^k) - p/q^2; runs of k or more come once
in 1/(q p^k) frames. A timer that runs out after D needs k = floor(D/T) losses, clear of ties. A
pass of length L looks up to L before the next frame feeds the timer; if passes read, too, the frame
before fed it up to L late. So a run of n losses never trips if (n + 1) T <= D, and always if
(n + 1) T > D + 2 L, or, with reads on arrival, > D + L.

Runs of k or more are a little more even than a Poisson process of that rate, by whose exact tails
they are judged.
"""

from typing import NamedTuple

import numpy as np
import pytest

from radiosim.measure.start import tally_start
from radiosim.trace import Trace
from radiosim.vehicle.vehicle import run_vehicle
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, FIVE_ERRORS, MEMORY, check, outside
from tests.reference.runs import UP_AT_ONCE, run
from tests.reference.sources import FACTS, FELLER


class Link(NamedTuple):
    """Loss, period, timeout, pass."""

    loss: float
    period_ms: float
    timeout_ms: float
    loop_ms: float
    interrupt: str = "false"

    @property
    def k(self) -> int:
        """Losses in a row that it takes."""
        return int(self.timeout_ms // self.period_ms)

    @property
    def late_ms(self) -> float:
        """Latest that an elapsed timeout is seen, a read of a frame included."""
        return (self.loop_ms + 0.1) * (1 if self.interrupt == "true" else 2)

    @property
    def is_tie(self) -> bool:
        """Whether a run of k losses can pass unseen."""
        return (self.k + 1) * self.period_ms <= self.timeout_ms + self.late_ms

    @property
    def spacing(self) -> float:
        """Mean frames from one run to the next."""
        return 1 / ((1 - self.loss) * self.loss**self.k)

    @property
    def to_first(self) -> float:
        """Mean frames to the first run."""
        return (1 - self.loss**self.k) * self.spacing

    @property
    def spread(self) -> float:
        """Standard deviation of that."""
        k, p = self.k, self.loss
        return float((self.spacing**2 - (2 * k + 1) * self.spacing - p / (1 - p) ** 2) ** 0.5)

    def __str__(self) -> str:
        on_arrival = ", reads on arrival" if self.interrupt == "true" else ""
        times = f"T={self.period_ms:g},D={self.timeout_ms:g},L={self.loop_ms:g}"
        return f"p={self.loss:g},{times}{on_arrival}"

    def run(self, frames: int, *, start: int = 0) -> Trace:
        """A run of so many frames."""
        text = f"""
duration_s = {frames * self.period_ms / 1000}
seed = {round(self.timeout_ms)}
radio.profile = "gfsk-2M"
{UP_AT_ONCE}
air.loss = {self.loss}
failsafe.drive = {{ timeout_ms = {self.timeout_ms} }}
layout.drive = {{ fields = [{{ name = "count", type = "u64" }}] }}
[receiver]
boot_s = 0
clock_ppm = 0
read = "all"
loop_ms = {self.loop_ms}
interrupt = {self.interrupt}
spi_hz = 100_000_000
spi_overhead_us = 0
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = {self.period_ms}
offset_ms = 1
clock_ppm = 0
acknowledge = "flag"
signals.count = {{ kind = "counter" }}
"""
        return run(text, start=start)


LINKS = (
    Link(0.1, 20, 70, 1),
    Link(0.2, 20, 105, 5),
    Link(0.5, 20, 205, 7),
    Link(0.5, 20, 210, 8, "true"),
    Link(0.3, 10, 25, 1),
    Link(0.3, 50, 120, 14),
    Link(0.5, 5, 33, 0.5),
    Link(0.4, 20, 90, 2, "true"),
)
FRAMES = 100_000


@outside(
    "entries into failsafe, one in 1/(q p^k) frames",
    source=FELLER.at("XIII.7"),
    status=MEMORY,
    chance=CHANCE_OF_FAILURE,
    unit="entries",
)
@pytest.mark.parametrize("link", LINKS, ids=str)
def test_a_timer_trips_as_often_as_runs_of_losses_come(link: Link) -> None:
    failsafe = tally_start(link.run(FRAMES)).streams["drive"].failsafe

    assert not link.is_tie
    assert failsafe is not None
    assert failsafe.trips_on_fault == 0
    check.events(failsafe.nuisance_trips, FRAMES / link.spacing)


def frames_to_entries(link: Link, frames: int, start: int) -> list[int]:
    """From each frame that ended failsafe to the loss that brought it on again, in frames."""
    trace = link.run(frames, start=start)
    (stream,) = run_vehicle(trace).streams
    read_ns, numbers = trace.reads["read_ns"], trace.reads["frame"]
    next_read = np.searchsorted(read_ns, [entry.at_ns for entry in stream.entries], side="right")
    last_fed, ended = numbers[next_read - 1], numbers[next_read[:-1]]
    return [int(last) + link.k - int(end) for last, end in zip(last_fed[1:], ended, strict=True)]


@pytest.mark.slow
@outside(
    "mean and standard deviation of frames to an entry",
    source=FELLER.at("XIII.7"),
    status=MEMORY,
    chance=FIVE_ERRORS,
    unit="frames",
)
@pytest.mark.parametrize(
    ("link", "mean", "spread"),
    [
        (Link(0.1, 20, 70, 1), 1110, 1108),
        (Link(0.2, 20, 105, 5), 3905, None),
        (Link(0.5, 20, 210, 8, "true"), 2046, None),
    ],
    ids=str,
)
def test_the_next_entry_comes_after_as_many_frames(
    link: Link, mean: float, spread: float | None
) -> None:
    waits = [wait for start in range(4) for wait in frames_to_entries(link, 300_000, start)]

    assert link.to_first == pytest.approx(mean, abs=0.5)
    check.mean(waits, mean)
    # Nearly exponential: its sample standard deviation has an error of sqrt(2/n) of itself.
    assert spread is None or link.spread == pytest.approx(spread, abs=0.5)
    within = 5 * link.spread * (2 / len(waits)) ** 0.5
    check.near(np.std(waits, ddof=1), link.spread, within=within)


TIES = (
    Link(0.5, 20, 60, 1),
    Link(0.5, 20, 71, 7.3),
    Link(0.5, 20, 71, 7.3, "true"),
    Link(0.5, 20, 75, 7.3),
    Link(0.5, 20, 75, 7.3, "true"),
    Link(0.5, 20, 62, 13),
    Link(0.5, 7, 30, 3),
)


@outside(
    "runs of losses that trip though (n + 1) T <= D, or pass though (n + 1) T > D + 2 L (reads on "
    "arrival: D + L)",
    source=FACTS.at("8"),
    status=DERIVED,
    unit="runs",
)
@pytest.mark.parametrize("link", TIES, ids=str)
def test_what_trips_is_bounded_on_both_sides_of_a_tie(link: Link) -> None:
    trace = link.run(50_000)
    (stream,) = run_vehicle(trace).streams
    lost = np.diff(trace.reads["frame"]) - 1
    entries_ns = [entry.at_ns for entry in stream.entries]
    tripped = np.zeros(len(lost) + 1, bool)
    tripped[np.searchsorted(trace.reads["read_ns"], entries_ns, side="right") - 1] = True
    tripped = tripped[:-1]
    gap_ms = (lost + 1) * link.period_ms
    never, always = gap_ms <= link.timeout_ms, gap_ms > link.timeout_ms + link.late_ms

    assert never.any()
    assert always.any()
    check.same(np.count_nonzero(tripped & never) + np.count_nonzero(~tripped & always), 0)


@outside(
    "share of runs of floor(D/T) losses that trip where D + L < (n + 1) T < D + 2 L",
    source=FACTS.at("8"),
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
@pytest.mark.parametrize(("interrupt", "share"), [("true", 1.0), ("false", 1 - 0.3 / 7.3)])
def test_one_pass_of_room_is_not_enough_where_passes_read(interrupt: str, share: float) -> None:
    # 4 x 20 > 71 + 7.4, but not > 71 + 14.8. The frame before is read up to 7.3 ms late; if later
    # than 7 ms, the next is read 10 passes = 73 ms after it, and the pass before saw 65.7 ms.
    link = Link(0.5, 20, 71, 7.3, interrupt)
    trace = link.run(50_000)
    (stream,) = run_vehicle(trace).streams
    runs = np.flatnonzero(np.diff(trace.reads["frame"]) == link.k + 1)
    entries_ns = [entry.at_ns for entry in stream.entries]
    read_ns = trace.reads["read_ns"]
    tripped = np.searchsorted(entries_ns, read_ns[runs]) < np.searchsorted(
        entries_ns, read_ns[runs + 1]
    )

    check.share(np.count_nonzero(tripped), len(tripped), share)
