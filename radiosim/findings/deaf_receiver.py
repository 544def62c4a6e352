"""A receiver that stops listening to send (rule D1)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Suspect


def suspects(case: Case) -> Iterator[Suspect]:
    """Deaf spans that take attempts."""
    streams = case.summary.figures.stream
    if not case.scenario.receiver.deaf or not streams:
        return
    name = max(streams, key=lambda stream: streams[stream].lost_deaf)
    figures = streams[name]
    if not figures.lost_deaf:
        return
    yield Suspect(
        what="the receiver stops listening now and then, and misses what is sent meanwhile",
        where="receiver.deaf",
        why=f"{figures.lost_deaf} of {figures.attempts} attempts of {name} found it deaf",
        figure=f"stream.{name}.lost_deaf",
        removed=("receiver.deaf=[]",),
        cures=(("receiver.deaf=[]",),),
        advice="let telemetry ride in the acknowledgements (receiver.acknowledge_payload_bytes), "
        "or send it seldom and shortly",
        measure="count lost frames with the telemetry switched off and on",
    )
