"""Counts and times of each stream, row by row, also in compiled code (rules G3 and H)."""

from collections.abc import Sequence

from radiosim.engine.timeline import FOREVER_NS
from radiosim.marks import rule
from radiosim.measure.histogram import Ramps, Spread, add_ramp, add_span, close_ramps
from radiosim.trace import (
    DUPLICATE,
    KEPT,
    NEW,
    QUEUE_FULL,
    READ,
    REPLACED,
    SKIPPED,
    TAKEN,
    UNDER_WAY,
    WAITING,
    AcknowledgementRow,
    AttemptRow,
    FrameRow,
    ReadRow,
    is_noise,
)
from radiosim.units import NS_PER_S

PLACES = (
    "read",
    "waiting",
    "thrown away",
    "never accepted",
    "skipped",
    "replaced",
    "queue full",
    "power cut",
    "under way",
)
(
    IN_PROGRAM,
    IN_FIFO,
    GONE_WITH_FIFO,
    NEVER_ACCEPTED,
    BUSY,
    OVERTAKEN,
    NO_ROOM,
    CUT_BEFORE_SENDING,
    ON_ITS_WAY,
) = range(len(PLACES))


MOST_SPANS = 64
"""Busy spans that are remembered: more than could end while one attempt is on the air."""


class Span:
    """A time in which the air was busy."""

    start_ns: int
    end_ns: int


class BusyState:
    """Busy time so far, and its last spans, oldest overwritten first."""

    busy_ns: int
    spans: int
    """Spans written, all in all."""
    kept: int
    """How many of the spans are remembered."""
    span: Sequence[Span]


@rule
def occupy(b: BusyState, start_ns: int, end_ns: int) -> None:
    """Something more was on the air; it ends no earlier than what came before it."""
    added_ns = end_ns - start_ns
    while b.kept > 0:
        last = b.span[(b.spans - 1) % MOST_SPANS]
        if last.end_ns <= start_ns:
            break
        added_ns -= last.end_ns - max(start_ns, last.start_ns)
        start_ns = min(start_ns, last.start_ns)
        b.spans -= 1
        b.kept -= 1
    b.busy_ns += added_ns
    new = b.span[b.spans % MOST_SPANS]
    new.start_ns = start_ns
    new.end_ns = end_ns
    b.spans += 1
    b.kept = min(b.kept + 1, MOST_SPANS)


NOTHING = -1
"""Number of no frame."""


class StreamState:
    """What one stream has come to."""

    fates: list[int]
    """Attempts by fate."""
    on_air_ns: int
    sent: int
    """Frames that were on the air."""
    last_sent: int
    """The last of them."""
    last_new: int
    """The last that the receiver accepted as new."""
    mistaken: int
    """Attempts of other frames that it took for repeats."""
    acknowledgements: int
    """Acknowledgements that its frames earned."""
    acknowledgements_ns: int
    """Time of the acknowledgements on the air."""
    acknowledgements_lost: int
    noise_acknowledgements: int
    """Acknowledgements that noise earned, and their time on the air."""
    noise_acknowledgements_ns: int
    noise_frames: int
    """Frames out of noise that the receiver accepted."""
    outcomes: list[int]
    """Frame rows by outcome."""
    ended: list[int]
    """Frames by where they ended, as far as their transmitter knows."""
    last_under_way: int
    """The frame that was sent and is still under way at the end."""
    accepted: list[int]
    """Frames that the receiver accepted, by where they ended: each once, at its best place."""
    last_accepted: int
    best: int
    """The best place of that one so far; the lower the better."""

    up_ns: int
    """When the receiver's program is up for the first time."""
    sampled_ns: int
    """The first sample seen, else FOREVER_NS."""
    reads: int
    from_ns: int
    """From when on a value can be waited for: sampled, and the program up."""
    last_ns: int
    """The last read, or where the first gap begins."""
    newest_ns: int
    """When the newest values read were taken."""
    longest_gap_ns: int
    longest_gap_at_ns: int
    second_ns: int
    """End of the running second."""
    in_second: int
    fewest: int
    """Reads in the emptiest second; −1: none is over."""
    gap: Spread
    latency: Spread
    age: Ramps


@rule
def count_attempt(s: StreamState, row: AttemptRow) -> None:
    """A frame was on the air; those of a stream come in order."""
    s.fates[row.fate] += 1
    s.on_air_ns += row.end_ns - row.start_ns
    if row.frame != s.last_sent:
        s.last_sent = row.frame
        s.sent += 1
    if row.fate == NEW:
        s.last_new = row.frame
    elif row.fate == DUPLICATE and row.frame != s.last_new:
        s.mistaken += 1


@rule
def count_acknowledgement(s: StreamState, row: AcknowledgementRow) -> None:
    """The receiver acknowledged one of its frames, or noise with its address."""
    if is_noise(row.frame):
        s.noise_acknowledgements += 1
        s.noise_acknowledgements_ns += row.end_ns - row.start_ns
        return
    s.acknowledgements += 1
    s.acknowledgements_ns += row.end_ns - row.start_ns
    if row.fate != TAKEN:
        s.acknowledgements_lost += 1


@rule
def end_of(outcome: int, attempts: int) -> int:
    """Where a frame ended, as far as its transmitter knows."""
    if outcome == SKIPPED:
        return BUSY
    if outcome == REPLACED:
        return OVERTAKEN
    if outcome == QUEUE_FULL:
        return NO_ROOM
    if outcome == UNDER_WAY:
        return ON_ITS_WAY
    return CUT_BEFORE_SENDING if attempts == 0 else NEVER_ACCEPTED


@rule
def count_frame(s: StreamState, row: FrameRow) -> None:
    """A frame is over at its transmitter; one that is kept for another slot is not."""
    s.sampled_ns = min(s.sampled_ns, row.sampled_ns)
    s.outcomes[row.outcome] += 1
    if row.outcome == KEPT:
        return
    s.ended[end_of(row.outcome, row.attempts)] += 1
    if row.outcome == UNDER_WAY and row.attempts > 0:
        s.last_under_way = row.frame


@rule
def place_of(outcome: int) -> int:
    """Where an accepted frame ended."""
    if outcome == READ:
        return IN_PROGRAM
    return IN_FIFO if outcome == WAITING else GONE_WITH_FIFO


@rule
def close_accepted(s: StreamState) -> None:
    """The last accepted frame is not accepted again."""
    if s.last_accepted != NOTHING:
        s.accepted[s.best] += 1


@rule
def count_read(s: StreamState, row: ReadRow) -> None:
    """An accepted frame left the FIFO; one accepted twice does so twice in a row (rule D3).

    One out of noise brings no value of the transmitter: it ends no gap and has no latency.
    """
    if is_noise(row.frame):
        s.noise_frames += 1
        return
    place = place_of(row.outcome)
    if row.frame == s.last_accepted:
        s.best = min(s.best, place)
    else:
        close_accepted(s)
        s.last_accepted, s.best = row.frame, place
    s.sampled_ns = min(s.sampled_ns, row.sampled_ns)
    if row.outcome == READ:
        take_read(s, row)


@rule
def open_stream(s: StreamState) -> None:
    """Begin its first gap."""
    sampled_ns = 0 if s.sampled_ns == FOREVER_NS else s.sampled_ns
    s.from_ns = s.last_ns = s.longest_gap_at_ns = max(sampled_ns, s.up_ns)
    s.second_ns = s.from_ns + NS_PER_S


@rule
def add_gap(s: StreamState, until_ns: int) -> None:
    """A gap is over."""
    gap_ns = until_ns - min(s.last_ns, until_ns)
    add_span(s.gap, gap_ns)
    if gap_ns > s.longest_gap_ns:
        s.longest_gap_ns, s.longest_gap_at_ns = gap_ns, s.last_ns


@rule
def count_seconds(s: StreamState, until_ns: int) -> None:
    """Every second that is over."""
    if until_ns < s.second_ns:
        return
    s.fewest = s.in_second if s.fewest < 0 else min(s.fewest, s.in_second)
    s.in_second = 0
    empty = (until_ns - s.second_ns) // NS_PER_S
    if empty > 0:
        s.fewest = 0
    s.second_ns += (1 + empty) * NS_PER_S


@rule
def take_read(s: StreamState, row: ReadRow) -> None:
    """The program reads a frame."""
    now = row.read_ns
    if s.reads == 0:
        open_stream(s)
        add_gap(s, now)
        s.newest_ns = row.values_ns
    else:
        add_gap(s, now)
        add_ramp(s.age, s.last_ns - s.newest_ns, now - s.newest_ns)
        s.newest_ns = max(s.newest_ns, row.values_ns)
    add_span(s.latency, now - row.sampled_ns)
    count_seconds(s, now)
    s.in_second += 1
    s.last_ns = now
    s.reads += 1


def fold_rows(
    b: BusyState,
    s: Sequence[StreamState],
    attempts: Sequence[AttemptRow],
    acknowledgements: Sequence[AcknowledgementRow],
    frames: Sequence[FrameRow],
    reads: Sequence[ReadRow],
) -> None:
    """Take some more rows of a trace, cut at one moment."""
    k = 0
    for i in range(len(attempts)):
        attempt = attempts[i]
        count_attempt(s[attempt.stream], attempt)
        while k < len(acknowledgements) and acknowledgements[k].end_ns <= attempt.end_ns:
            occupy(b, acknowledgements[k].start_ns, acknowledgements[k].end_ns)
            k += 1
        occupy(b, attempt.start_ns, attempt.end_ns)
    for i in range(k, len(acknowledgements)):
        occupy(b, acknowledgements[i].start_ns, acknowledgements[i].end_ns)
    for i in range(len(acknowledgements)):
        count_acknowledgement(s[acknowledgements[i].stream], acknowledgements[i])
    for i in range(len(frames)):
        count_frame(s[frames[i].stream], frames[i])
    # Frames first: the first sample of a stream may be of one that was never read.
    for i in range(len(reads)):
        count_read(s[reads[i].stream], reads[i])


def fold_end(s: Sequence[StreamState], until_ns: int) -> None:
    """No more rows come."""
    for i in range(len(s)):
        stream = s[i]
        close_accepted(stream)
        if stream.reads == 0:
            open_stream(stream)
        else:
            add_ramp(stream.age, stream.last_ns - stream.newest_ns, until_ns - stream.newest_ns)
        close_ramps(stream.age)
        add_gap(stream, until_ns)
        count_seconds(stream, until_ns)
