"""What the tests of the terminal report share: the printed text, and summaries with a change."""

import msgspec

from radiosim.engine.simulate import simulate
from radiosim.findings import diagnosed
from radiosim.measure import summarise
from radiosim.measure.summary import FailsafeFigures, FaultFigures, StreamFigures, Summary
from radiosim.report.run import run_report
from radiosim.results.document import Origin, Report
from radiosim.results.terminal import plain_text
from radiosim.scenario import Scenario, parse
from tests.report.samples import scenario

QUIET = FailsafeFigures(trips_on_fault=0, nuisance_trips=0, nuisance_per_hour=0.0, seconds_on=0.0)
TINY = """
duration_s = 6
radio.profile = "gfsk-1M"
receiver.boot_s = 0
transmitter.drive = { boot_s = 0, period_ms = 20, payload_bytes = 6, offset_ms = 1 }
failsafe.drive = { timeout_ms = 250 }
output.motor = { stream = "drive", field = "value", on_failsafe = { preset_us = 1500 } }
air.loss = 0.0
"""
"""One transmitter, one motor, no loss."""


ORIGIN = Origin(command="radiosim run a", scenario_name="a", seed=1, version="0")


def reported(summary: Summary, given: Scenario | None = None) -> Report:
    return run_report(summary, given or scenario(), ORIGIN)


def printed(
    summary: Summary, given: Scenario | None = None, *, more: bool = False, width: int = 80
) -> str:
    return plain_text(reported(summary, given), width, is_more=more)


def flat(summary: Summary, given: Scenario | None = None, *, more: bool = False) -> str:
    """The report as one line."""
    return " ".join(printed(summary, given, more=more).split())


def simulated(text: str) -> tuple[Scenario, Summary]:
    """A scenario and the summary of its start 0, with its findings."""
    given = parse(text)
    summary = summarise(simulate(given, engine="reference"))
    return given, diagnosed(given, summary)


def told(text: str) -> str:
    """The report of start 0 of a scenario, as one line."""
    given, summary = simulated(text)
    return flat(summary, given)


def with_stream(summary: Summary, name: str, figures: StreamFigures) -> Summary:
    streams = {**summary.figures.stream, name: figures}
    return msgspec.structs.replace(
        summary, figures=msgspec.structs.replace(summary.figures, stream=streams)
    )


def with_faults(summary: Summary, *faults: FaultFigures) -> Summary:
    return msgspec.structs.replace(
        summary, figures=msgspec.structs.replace(summary.figures, faults=faults)
    )
