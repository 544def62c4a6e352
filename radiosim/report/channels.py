"""`radiosim channels`: which channels stay clear."""

from typing import Any

from rich.console import Console
from rich.text import Text

from radiosim.report.as_csv import csv_text
from radiosim.report.terminal.parts import Trimmed, block, table
from radiosim.report.terminal.words import printable
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import assumed_distance_m
from radiosim.study.channels import Channel

SHOWN = 10
CLEAR = 1e-3
"""Share of attempts lost below which a channel is called clear."""
CAUTION = (
    "Only what the scenario names is weighed, by its level at the receiver: listen on the channel "
    "before you trust it. Channels that leave the band are left out, but rules differ: check your "
    "local radio rules."
)


def print_channels(scenario: Scenario, channels: tuple[Channel, ...], console: Console) -> None:
    """Print the clearest channels and the scenario's own, 80 columns wide."""
    own = next((it for it in channels if it.number == scenario.radio.channel), None)
    clear = [it.number for it in channels if it.worst < CLEAR]
    shown = [*channels[:SHOWN], *([own] if own is not None and own not in channels[:SHOWN] else [])]
    names = list(scenario.transmitter)
    rows = [
        (
            f"{it.number}{' (now)' if it is own else ''}",
            f"{2400 + it.number}",
            *(f"{100 * it.lost[name]:.2g}" for name in names),
        )
        for it in shown
    ]
    title = f"{printable(scenario.name)}: attempts that interferers spoil, before retries"
    columns = ("channel", "MHz", *(f"{printable(name)}\n%" for name in names))
    console.print(Trimmed(part=block(title, table(columns, rows))))
    said = ranges_text(clear)
    console.print(Trimmed(part=Text(f"Clear (under {100 * CLEAR:g} %): {said}.")))
    if not scenario.interferer:
        console.print(Text("The scenario names no interferer: every channel looks alike."))
    if (distance_m := assumed_distance_m(scenario)) is not None:
        console.print(
            Trimmed(
                part=Text(
                    f"The scenario gives no distance: {distance_m:g} m in free space is taken. "
                    "Farther off the link is fainter, and more is spoilt: say how far, as "
                    "--set air.range.distance_m=60."
                )
            )
        )
    console.print(Trimmed(part=Text(CAUTION)))


def ranges_text(numbers: list[int]) -> str:
    """Channels as spans: 1 to 12, 60."""
    spans: list[list[int]] = []
    for number in sorted(numbers):
        if spans and number == spans[-1][1] + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    texts = [f"{a}" if a == b else f"{a} to {b}" for a, b in spans]
    return ", ".join(texts) if texts else "none"


def channels_json(scenario: Scenario, channels: tuple[Channel, ...]) -> dict[str, Any]:
    """Every channel, best first."""
    return {
        "scenario": scenario.name,
        "channel_now": scenario.radio.channel,
        "assumed_distance_m": assumed_distance_m(scenario),
        "channels": [
            {"channel": it.number, "mhz": 2400 + it.number, "lost": it.lost, "worst": it.worst}
            for it in channels
        ],
    }


def channels_csv(channels: tuple[Channel, ...]) -> dict[str, str]:
    """File name → text: one row a channel, best first."""
    rows = [
        {
            "channel": it.number,
            "mhz": 2400 + it.number,
            **{f"lost.{name}": lost for name, lost in it.lost.items()},
        }
        for it in channels
    ]
    return {"band.csv": csv_text(("channel", "mhz"), rows)}
