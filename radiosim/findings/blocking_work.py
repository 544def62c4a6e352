"""Work that holds a program up now and then: a display, a sensor bus (rules A4 and E1)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.loop import fifo_text, late_figure
from radiosim.findings.suspect import Suspect

MEASURE = "toggle a pin around the work and measure how long it stays up"


def suspects(case: Case) -> Iterator[Suspect]:
    """Work of the receiver, then of each transmitter."""
    receiver = case.scenario.receiver
    if receiver.work:
        longest = max(receiver.work, key=lambda work: work.takes_ms)
        yield Suspect(
            what="work in the receiver's loop holds frames up",
            where="receiver.work",
            why=f"{longest.takes_ms:g} ms every {longest.every_ms:g} ms{fifo_text(case)}",
            figure=late_figure(case),
            removed=("receiver.work=[]",),
            cures=(("receiver.interrupt=true",), ("receiver.read=all",)),
            advice="or do the work in slices, one a pass",
            measure=MEASURE,
        )
    for name, unit in case.scenario.transmitter.items():
        if unit.work:
            longest = max(unit.work, key=lambda work: work.takes_ms)
            yield Suspect(
                what=f"work in {name}'s loop holds its frames up",
                where=f"transmitter.{name}.work",
                why=f"{longest.takes_ms:g} ms every {longest.every_ms:g} ms",
                figure=f"stream.{name}.latency_ms.p99",
                removed=(f"transmitter.{name}.work=[]",),
                cures=(),
                advice="do the work in slices, or right after a frame was handed over",
                measure=MEASURE,
            )
