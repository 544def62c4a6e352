"""One transmitter with retries against closed forms.

Source: facts derived (D) from the retry rule of PS 7.4.2 (Nordic Semiconductor, "Single Chip
2.4GHz Transceiver, Product Specification" v1.0, 2008; S). With independent forward loss f,
acknowledgement loss a, n = 1 + limit and s = (1-f)(1-a): delivered 1 - f^n; the transmitter sees
success 1 - (1-s)^n; mean attempts (1 - (1-s)^n)/s; heard attempts that are not delivered are
duplicates.

Binomial counts are judged by both exact tails, means by 5 standard errors.
"""

from typing import NamedTuple

import numpy as np
import pytest

from radiosim.trace import ACKNOWLEDGED, DUPLICATE, NEW, READ, Trace
from tests.reference.outside import CHANCE_OF_FAILURE, DERIVED, FIVE_ERRORS, check, outside
from tests.reference.runs import UP_AT_ONCE, run
from tests.reference.sources import FACTS, PS

FRAMES = 10_000
SOURCE = f"{PS.at('7.4.2')}; {FACTS.at('1')}"


class Link(NamedTuple):
    """Forward loss, acknowledgement loss, retries."""

    f: float
    a: float
    limit: int

    @property
    def n(self) -> int:
        return 1 + self.limit

    @property
    def s(self) -> float:
        return (1 - self.f) * (1 - self.a)

    @property
    def delivered(self) -> float:
        return 1 - self.f**self.n

    @property
    def seen(self) -> float:
        return 1 - (1 - self.s) ** self.n

    @property
    def mean_attempts(self) -> float:
        return self.seen / self.s


LINKS = (
    Link(0.02, 0.02, 3),
    Link(0.1, 0.1, 3),
    Link(0.3, 0.0, 2),
    Link(0.0, 0.3, 3),
    Link(0.2, 0.4, 0),
    Link(0.5, 0.2, 5),
    Link(0.6, 0.6, 15),
)


@pytest.fixture(scope="module", params=LINKS, ids=lambda link: f"f={link.f},a={link.a},n={link.n}")
def lossy(request: pytest.FixtureRequest) -> tuple[Link, Trace]:
    """A link and a run of it; a counter keeps a fourth frame from looking like an old one."""
    link = request.param
    trace = run(f"""
duration_s = {FRAMES * 0.02}
radio.profile = "gfsk-1M"
{UP_AT_ONCE}
air.loss = {link.f}
air.acknowledge_loss = {link.a}
receiver.boot_s = 0
receiver.read = "all"
layout.drive = {{ fields = [{{ name = "count", type = "u16" }}] }}
[transmitter.drive]
boot_s = 0
layout = "drive"
period_ms = 20
offset_ms = 1
clock_ppm = 0
retry_limit = {link.limit}
signals.count = {{ kind = "counter" }}
""")
    assert len(trace.frames) == FRAMES
    return link, trace


@outside(
    "closed forms below against the worked values at f = a = 0.1, 3 retries",
    source=SOURCE,
    status=DERIVED,
)
def test_the_closed_forms_give_the_worked_values() -> None:
    link = Link(0.1, 0.1, 3)

    check.near(link.delivered, 0.9999, within=5e-8)
    check.near(link.seen, 0.9986968, within=5e-8)
    check.near(link.mean_attempts, 1.232959, within=5e-7)


@outside(
    "share of frames delivered, 1 - f^n", source=SOURCE, status=DERIVED, chance=CHANCE_OF_FAILURE
)
def test_as_many_frames_are_delivered_as_the_closed_form_says(lossy: tuple[Link, Trace]) -> None:
    link, trace = lossy
    read = np.count_nonzero(trace.reads["outcome"] == READ)

    check.share(read, FRAMES, link.delivered)
    assert len(np.unique(trace.reads["frame"])) == len(trace.reads)


@outside(
    "share of frames that the transmitter sees acknowledged, 1 - (1 - s)^n",
    source=SOURCE,
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
def test_the_transmitter_sees_as_much_success_as_the_closed_form_says(
    lossy: tuple[Link, Trace],
) -> None:
    link, trace = lossy
    acknowledged = np.count_nonzero(trace.frames["outcome"] == ACKNOWLEDGED)

    check.share(acknowledged, FRAMES, link.seen)


@outside(
    "mean attempts a frame, (1 - (1 - s)^n)/s", source=SOURCE, status=DERIVED, chance=FIVE_ERRORS
)
def test_a_frame_takes_as_many_attempts_as_the_closed_form_says(lossy: tuple[Link, Trace]) -> None:
    link, trace = lossy

    check.mean(trace.frames["attempts"], link.mean_attempts)


@outside(
    "mean duplicates a frame, heard attempts less delivered frames",
    source=SOURCE,
    status=DERIVED,
    chance=FIVE_ERRORS,
)
def test_what_is_heard_again_is_a_duplicate(lossy: tuple[Link, Trace]) -> None:
    link, trace = lossy
    heard = trace.attempts["fate"] == DUPLICATE
    by_frame = np.bincount(trace.attempts["frame"][heard], minlength=FRAMES)
    expected = link.mean_attempts * (1 - link.f) - link.delivered

    assert np.isin(trace.attempts["fate"], (NEW, DUPLICATE)).any()
    check.mean(by_frame, expected)


@outside(
    "share of first, second and third attempts heard, 1 - f",
    source=SOURCE,
    status=DERIVED,
    chance=CHANCE_OF_FAILURE,
)
def test_attempts_of_a_frame_are_lost_independently(lossy: tuple[Link, Trace]) -> None:
    link, trace = lossy
    for attempt in range(1, min(link.n, 3) + 1):
        tried = trace.attempts[trace.attempts["attempt"] == attempt]
        heard = np.count_nonzero(np.isin(tried["fate"], (NEW, DUPLICATE)))

        check.share(heard, len(tried), 1 - link.f)
