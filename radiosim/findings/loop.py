"""What findings ask about the receiver's loop."""

from radiosim.findings.case import Case


def latest_stream(case: Case) -> str:
    """The stream whose frames are read latest."""
    streams = case.summary.figures.stream
    return max(streams, key=lambda name: streams[name].latency_ms.p99 or 0.0)


def late_figure(case: Case) -> str:
    """Path of the figure that shows a loop too slow."""
    return f"stream.{latest_stream(case)}.latency_ms.p99"


def fifo_text(case: Case) -> str:
    """How many attempts found the FIFO full, in words; empty if none."""
    streams = case.summary.figures.stream.values()
    full, attempts = sum(s.fifo_dropped for s in streams), sum(s.attempts for s in streams)
    if not full:
        return ""
    return f"; {100 * full / attempts:.3g} % of all attempts found the receiver's FIFO full"
