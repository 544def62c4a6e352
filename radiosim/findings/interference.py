"""Something from outside the link that takes its frames (rules C1 and C2)."""

from collections.abc import Iterator

from radiosim.findings.case import Case
from radiosim.findings.suspect import Suspect
from radiosim.study.channels import best_channel

NOTABLE = 0.01
"""Share of attempts that must have met something before anybody from outside is suspected."""
SHARE = 0.9
"""Several may take frames side by side: without one of them a part of the losses stays."""
SILENT_DBM = -200


def suspects(case: Case) -> Iterator[Suspect]:
    """Every interferer, where frames or answers are lost to others at all."""
    scenario, streams = case.scenario, case.summary.figures.stream
    if not scenario.interferer:
        return
    name = max(streams, key=lambda stream: streams[stream].lost_collision)
    figures = streams[name]
    if figures.lost_collision < NOTABLE * max(1, figures.attempts):
        return
    channel = best_channel(scenario)
    moved = () if channel == scenario.radio.channel else ((f"radio.channel={channel}",),)
    for other in scenario.interferer:
        yield Suspect(
            what=f"{other} takes frames of the link",
            where=f"interferer.{other}",
            why=f"{figures.lost_collision} of {figures.attempts} attempts of {name} met something",
            figure=f"stream.{name}.lost_collision",
            removed=(
                f"interferer.{other}.power_dbm_at_receiver={SILENT_DBM}",
                f"interferer.{other}.power_dbm_at_transmitters={SILENT_DBM}",
            ),
            cures=moved,
            advice="another channel, on all radios alike; check your local radio rules",
            measure=f"count {name}'s frames with {other} switched off and on",
            share=SHARE,
        )
