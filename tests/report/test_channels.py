"""Which channels stay clear, as a report."""

import csv
import io

import pytest

from radiosim.report.channels import CLEAR, ChannelsData, spans_text
from radiosim.results.data import csv_files
from radiosim.results.terminal import plain_text
from tests.report.reports import a_channels


@pytest.mark.parametrize(
    ("numbers", "said"),
    [((), "none"), ((60, 1, 2, 3), "1 to 3, 60"), ((7,), "7"), ((1, 2, 4, 5), "1 to 2, 4 to 5")],
)
def test_neighbouring_channels_are_a_span(numbers: tuple[int, ...], said: str) -> None:
    assert spans_text(numbers) == said


def test_the_terminal_shows_the_best_and_the_own_and_files_hold_all() -> None:
    report = a_channels()
    data: ChannelsData = report.data
    rows = list(csv.DictReader(io.StringIO(csv_files(report)["channels.csv"])))
    lines = plain_text(report).splitlines()

    head = next(number for number, line in enumerate(lines) if line.startswith("channel "))
    shown = [line.split()[0] for line in lines[head + 1 : lines.index("", head)]]
    best = [str(channel.number) for channel in data.channels[:10]]
    own = str(data.channel_now)
    assert shown == (best if own in best else [*best, own])
    assert [int(row["channel"]) for row in rows] == [channel.number for channel in data.channels]
    assert float(rows[-1]["lost.drive"]) == data.channels[-1].worst


def test_what_is_called_clear_loses_next_to_nothing() -> None:
    data: ChannelsData = a_channels().data
    clear = [channel.number for channel in data.channels if channel.worst < CLEAR]

    assert 0 < len(clear) < len(data.channels)
    assert f"Clear (under 0.1 %): {spans_text(clear)}." in plain_text(a_channels())
