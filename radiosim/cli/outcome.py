"""Where a run's results go: the terminal, JSON, tables, a page, a trace, a waveform."""

import shlex
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.printing import print_report, tell
from radiosim.cli.source import Choice, Outcome
from radiosim.cli.targets import STANDARD_OUTPUT, check_targets
from radiosim.cli.written import write_tables
from radiosim.report.files import write_whole

if TYPE_CHECKING:
    from radiosim.trace import Trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """Where the results go, as the user said it; None where nothing was said."""

    json: str | None = None
    csv: Path | None = None
    parquet: Path | None = None
    page: Path | None = None
    trace: Path | None = None
    waveform: Path | None = None
    more: bool = False

    def check(self, choice: Choice) -> None:
        """RadiosimError, before anything is simulated, if a target cannot be written."""
        check_targets(
            self.json,
            self.csv,
            self.parquet,
            files={"--trace": self.trace, "--waveform": self.waveform, "--page": self.page},
            scenarios=(choice.source,),
            set_=choice.overrides,
        )

    def deliver(self, outcome: Outcome, choice: Choice, scenario_text: str) -> None:
        """Write the files, then print the report; JSON on standard output stands alone."""
        from radiosim.report.as_csv import as_csv
        from radiosim.report.as_json import as_json

        if self.trace is not None and outcome.trace is not None:
            from radiosim import trace_file

            trace_file.save(outcome.trace, self.trace)
        if self.waveform is not None and outcome.shown is not None:
            from radiosim.report.waveform.file import waveform

            write_whole(self.waveform, waveform(outcome.shown))
            tell(f"wrote {self.waveform}: start {outcome.shown.start}")
        if self.page is not None and outcome.shown is not None:
            write_whole(self.page, _page(outcome, choice, scenario_text, outcome.shown, self.page))
            tell(f"wrote {self.page}, with start {outcome.shown.start}")
        write_tables(self.csv, self.parquet, lambda: as_csv(outcome.summary))
        if self.json == STANDARD_OUTPUT:
            sys.stdout.write(as_json(outcome.summary))
            return
        if self.json is not None:
            write_whole(Path(self.json), as_json(outcome.summary))
        _print(outcome, self.more)


def _print(outcome: Outcome, more: bool) -> None:
    from radiosim.report.terminal import print_summary

    print_report(
        lambda console: print_summary(
            outcome.summary, outcome.scenario, console, more=more, shown=outcome.shown
        )
    )


def _page(outcome: Outcome, choice: Choice, scenario_text: str, shown: "Trace", path: Path) -> str:
    from radiosim.report.page import page_html
    from radiosim.report.page.of_run import page_of_run

    page = page_of_run(
        outcome.summary,
        outcome.scenario,
        shown,
        source=choice.source,
        scenario_text=scenario_text,
        command=f"{choice.command()} --page {shlex.quote(str(path))}",
    )
    return page_html(page)
