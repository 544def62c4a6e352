"""What the tests of the terminal report share: the printed text, and summaries with a change."""

import io

import msgspec
from rich.console import Console

from radiosim.engine.simulate import simulate
from radiosim.findings import find
from radiosim.measure import summarise
from radiosim.measure.summary import FailsafeFigures, FaultFigures, StreamFigures, Summary
from radiosim.report.terminal import print_summary
from radiosim.scenario import Scenario, parse
from tests.report.samples import scenario

QUIET = FailsafeFigures(trips_on_fault=0, nuisance_trips=0, nuisance_per_hour=0.0, seconds_on=0.0)
TINY = """
duration_s = 6
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 6, offset_ms = 1 }
failsafe.drive = { timeout_ms = 250 }
output.motor = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }
air.loss = 0.0
"""
"""One transmitter, one motor, no loss."""


def printed(
    summary: Summary, given: Scenario | None = None, *, more: bool = False, width: int = 80
) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=width, highlight=False, markup=False, emoji=False)
    print_summary(summary, given or scenario(), console, more=more)
    return stream.getvalue()


def simulated(text: str) -> tuple[Scenario, Summary]:
    """A scenario and the summary of its start 0, with its findings."""
    given = parse(text)
    summary = summarise(simulate(given, engine="reference"))
    return given, msgspec.structs.replace(summary, findings=find(given, summary))


def told(text: str) -> str:
    """The report of start 0 of a scenario, as one line."""
    given, summary = simulated(text)
    return " ".join(printed(summary, given).split())


def with_stream(summary: Summary, name: str, figures: StreamFigures) -> Summary:
    streams = {**summary.figures.stream, name: figures}
    return msgspec.structs.replace(
        summary, figures=msgspec.structs.replace(summary.figures, stream=streams)
    )


def with_faults(summary: Summary, *faults: FaultFigures) -> Summary:
    return msgspec.structs.replace(
        summary, figures=msgspec.structs.replace(summary.figures, faults=faults)
    )
