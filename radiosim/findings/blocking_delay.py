"""A wait at the end of each pass (rule E1)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.loop import fifo_text, late_figure, latest_stream
from radiosim.findings.suspect import Suspect


def suspects(case: Case) -> Iterator[Suspect]:
    """A delay that frames wait for."""
    receiver, stream = case.scenario.receiver, latest_stream(case)
    if not receiver.delay_ms:
        return
    yield Suspect(
        what="the receiver's loop waits, and with it every frame in its radio",
        where="receiver.delay_ms",
        why=f"a delay of {receiver.delay_ms:g} ms in each pass; 99 of 100 frames of {stream} are "
        f"read within {case.summary.figures.stream[stream].latency_ms.p99 or 0:.3g} ms"
        f"{fifo_text(case)}",
        figure=late_figure(case),
        removed=("receiver.delay_ms=0",),
        cures=(("receiver.delay_ms=0",), ("receiver.read=all",), ("receiver.interrupt=true",)),
        advice="servos need no pause; where one is needed, look at the clock instead of waiting",
        measure="toggle a pin once a pass and look at the longest time between two edges",
    )
