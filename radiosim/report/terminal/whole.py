"""The whole report, worst things first."""

from rich.console import Console
from rich.text import Text

from radiosim.measure.summary import Summary
from radiosim.report.caution import CAUTION
from radiosim.report.terminal.failsafe import failsafe_lines
from radiosim.report.terminal.faults import fault_lines
from radiosim.report.terminal.findings import finding_lines
from radiosim.report.terminal.glance import can_show, glance_lines
from radiosim.report.terminal.hazards import hazard_lines, hazards
from radiosim.report.terminal.head import assumptions, head
from radiosim.report.terminal.more import more as more_parts
from radiosim.report.terminal.outputs import output_table
from radiosim.report.terminal.parts import Trimmed
from radiosim.report.terminal.requirements import requirement_lines
from radiosim.report.terminal.streams import stream_table
from radiosim.scenario import Scenario
from radiosim.trace import Trace


def print_summary(
    summary: Summary,
    scenario: Scenario,
    console: Console,
    *,
    more: bool = False,
    shown: Trace | None = None,
) -> None:
    """Print a run of a scenario; with `more` also the figures that the first screen leaves out.

    A terminal that can show it gets the start `shown` at a glance.
    """
    found = hazards(summary, scenario)
    parts = (
        *head(summary),
        *hazard_lines(found),
        *finding_lines(summary),
        *assumptions(summary),
        *stream_table(summary, scenario),
        *(() if shown is None or not can_show(console) else glance_lines(shown)),
        *failsafe_lines(summary, scenario),
        *fault_lines(summary, scenario),
        *output_table(summary, scenario),
        *requirement_lines(summary),
        *(more_parts(summary, scenario) if more else ()),
    )
    for part in (*parts, _close(found, more)):
        console.print(Trimmed(part=part), end="")


def _close(found: tuple[str, ...], more: bool) -> Text:
    count = len(found)
    hint = "" if more else "More figures: --more."
    marked = f"{count} warning{'s' if count > 1 else ''} above, marked with !." if count else ""
    last = " ".join(part for part in (marked, hint) if part)
    return Text(f"{CAUTION}\n{last}" if last else CAUTION)
