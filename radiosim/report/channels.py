"""`radiosim channels` as a report: which channels stay clear."""

from collections.abc import Iterator, Sequence

from msgspec import Struct

from radiosim.results.document import Column, Origin, Report, Section, Table
from radiosim.safety import LOCAL_RULES
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import assumed_distance_m
from radiosim.study.channels import Channel

SHOWN = 10
CLEAR = 1e-3
"""Share of attempts lost below which a channel is called clear."""
WEIGHED = (
    "Only what the scenario names is weighed, by its level at the receiver, without fading, while "
    "it sends, at random instants; starts differ where periods fit into one another. Listen on "
    "the channel before you trust it."
)
CAUTION = f"Channels that leave the band are left out, but rules differ: {LOCAL_RULES}."


class ChannelsData(Struct, frozen=True, kw_only=True):
    """Every channel inside the band, best first."""

    scenario: str
    channel_now: int
    assumed_distance_m: float | None
    """The distance that was taken; None: the scenario gives it."""
    channels: tuple[Channel, ...]


def channels_report(scenario: Scenario, channels: Sequence[Channel], origin: Origin) -> Report:
    """The clearest channels and the scenario's own; files hold every channel."""
    data = ChannelsData(
        scenario=scenario.name,
        channel_now=scenario.radio.channel,
        assumed_distance_m=assumed_distance_m(scenario),
        channels=tuple(channels),
    )
    best, others = data.channels[:SHOWN], data.channels[SHOWN:]
    own = tuple(channel for channel in others if channel.number == data.channel_now)
    streams = tuple(scenario.transmitter)
    return Report(
        title=scenario.title or scenario.name or "A scenario without a title",
        subject="Which channels stay clear of the interferers of a radio control link",
        done="every channel inside the band, in closed form",
        sections=(
            Section(
                heading="Attempts that interferers spoil, before retries",
                tables=(_table("clearest", data, (*best, *own), streams),),
                sentences=tuple(_sentences(scenario, data)),
            ),
        ),
        tables=(_table("channels", data, data.channels, streams),),
        cautions=(CAUTION,),
        data=data,
        origin=origin,
    )


def _table(
    key: str, data: ChannelsData, channels: Sequence[Channel], streams: Sequence[str]
) -> Table:
    return Table(
        key=key,
        columns=(
            Column(
                key="channel",
                title="channel",
                show=lambda number: (
                    f"{number} (now)" if number == data.channel_now else f"{number}"
                ),
            ),
            Column(key="mhz", title="frequency", unit="MHz", show="{:d}".format),
            *(
                Column(
                    key=f"lost.{stream}",
                    title=stream,
                    unit="%",
                    show=lambda share: f"{100 * share:.2g}",
                    priority=1,
                )
                for stream in streams
            ),
        ),
        rows=tuple(
            (channel.number, channel.mhz, *(channel.lost[stream] for stream in streams))
            for channel in channels
        ),
        where="screen" if key == "clearest" else "data",
    )


def _sentences(scenario: Scenario, data: ChannelsData) -> Iterator[str]:
    clear = [channel.number for channel in data.channels if channel.worst < CLEAR]
    yield f"Clear (under {100 * CLEAR:g} %): {spans_text(clear)}."
    if not scenario.interferer:
        yield "The scenario names no interferer: every channel looks alike."
    if data.assumed_distance_m is not None:
        yield (
            f"The scenario gives no distance: {data.assumed_distance_m:g} m in free space is "
            "taken. Farther off the link is fainter, and more is spoilt: say how far, as "
            "--set air.range.distance_m=60."
        )
    yield WEIGHED


def spans_text(numbers: Sequence[int]) -> str:
    """Channels as spans: 1 to 12, 60."""
    spans: list[list[int]] = []
    for number in sorted(numbers):
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    texts = [f"{first}" if first == last else f"{first} to {last}" for first, last in spans]
    return ", ".join(texts) if texts else "none"
