"""A program that reads one frame a pass while more come (rule E1)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.loop import fifo_text, late_figure
from radiosim.findings.suspect import Suspect


def suspects(case: Case) -> Iterator[Suspect]:
    """One read a pass, with frames that wait for later passes."""
    receiver = case.scenario.receiver
    if receiver.read != "one" or receiver.interrupt:
        return
    yield Suspect(
        what="the program reads one frame a pass, and the others wait for the passes after it",
        where="receiver.read",
        why=f"frames queue in the radio{fifo_text(case)}",
        figure=late_figure(case),
        removed=("receiver.read=all",),
        cures=(("receiver.read=all",), ("receiver.read=newest",)),
        advice="read until the radio's FIFO is empty",
        measure="count the frames that are left in the FIFO after each read",
    )
