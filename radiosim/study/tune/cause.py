"""Why a point misses a requirement, in one word."""

from collections.abc import Mapping

from radiosim.measure.tally import StreamTally

BEAT, COLLISION, DEAF, FULL = "clocks beat", "collision", "receiver deaf", "FIFO full"
BUSY, RANGE, CHANCE, SLOW = "transmitter busy", "out of range", "chance", "too slow"
UNNOTICED = "fault not noticed"
CAUSES = (BEAT, COLLISION, DEAF, FULL, BUSY, RANGE, CHANCE, SLOW, UNNOTICED)
SELDOM = 0.01
"""Less than this share of attempts lost, or of samples not sent: the setting itself is too slow."""


def cause_of(figure: str, streams: Mapping[str, StreamTally], outputs: Mapping[str, str]) -> str:
    """What took most of the frames of the stream that a missed figure is about.

    `streams`: of one start; `outputs`: stream of each output. Of a figure that is about no stream:
    of all of them.
    """
    if figure.endswith(".trips_on_fault"):
        return UNNOTICED
    kind, name, *_ = figure.split(".")
    stream = name if kind == "stream" else outputs.get(name, "") if kind == "output" else ""
    mine = [streams[stream]] if stream in streams else list(streams.values())
    attempts = sum(it.attempts for it in mine)
    sampled = sum(it.sampled for it in mine)
    lost = {
        COLLISION: sum(it.lost_collision for it in mine),
        DEAF: sum(it.lost_deaf for it in mine),
        FULL: sum(it.fifo_dropped for it in mine),
        RANGE: sum(it.lost_range for it in mine),
        CHANCE: sum(it.lost_chance for it in mine),
    }
    held_back = sum(it.skipped + it.replaced + it.queue_full for it in mine)
    if held_back > sampled * SELDOM and held_back > max(lost.values()):
        return BUSY
    most = max(lost, key=lambda cause: lost[cause])
    return SLOW if lost[most] <= attempts * SELDOM else most
