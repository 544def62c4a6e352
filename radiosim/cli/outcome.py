"""Where a run's results go: the terminal, JSON, tables, a page, a trace, a waveform."""

import shlex
from dataclasses import dataclass
from pathlib import Path

from radiosim.cli.printing import has_letters, tell
from radiosim.cli.source import Choice, Outcome
from radiosim.cli.targets import check_targets
from radiosim.cli.written import write_report
from radiosim.report.files import write_whole
from radiosim.results.document import Origin


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
        from radiosim.report.run import run_report

        if self.trace is not None and outcome.trace is not None:
            from radiosim import trace_file

            trace_file.save(outcome.trace, self.trace)
        if self.waveform is not None and outcome.shown is not None:
            from radiosim.report.waveform.file import waveform

            write_whole(self.waveform, waveform(outcome.shown))
            tell(f"wrote {self.waveform}: start {outcome.shown.start}")
        report = run_report(
            outcome.summary,
            outcome.scenario,
            self._origin(outcome, choice, scenario_text),
            shown=outcome.shown,
            has_glance=has_letters(),
        )
        write_report(
            report,
            json=self.json,
            csv=self.csv,
            parquet=self.parquet,
            page=self.page,
            is_more=self.more,
        )
        if self.page is not None and outcome.shown is not None:
            tell(f"wrote {self.page}, with start {outcome.shown.start}")

    def _origin(self, outcome: Outcome, choice: Choice, scenario_text: str) -> Origin:
        page = "" if self.page is None else f" --page {shlex.quote(str(self.page))}"
        return Origin(
            command=f"{choice.command()}{page}",
            scenario_name=choice.source,
            scenario_text=scenario_text,
            seed=outcome.summary.seed,
            version=outcome.summary.version,
        )
