"""The commands `probe` and `fit`: what units log on the bench, and what it says of the scenario."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.console import DONE, NOT_HELD
from radiosim.cli.options import (
    REQUIRED,
    Mark,
    OfScenario,
    Overridden,
    PageAndFiles,
    Seeded,
    Simulates,
    argument,
    option,
)
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.study.fit.fit import Fit


@dataclass(frozen=True, kw_only=True)
class ProbeOptions(OfScenario):
    """Options of `radiosim probe`."""

    COMMAND = "probe"

    to: Path = option("FOLDER", "Where probe.h and probe.md go.", default=REQUIRED)


def probe(options: ProbeOptions) -> int:
    """Write a header that logs what a firmware does, and how to wire and use it."""
    from radiosim.cli.console import print_caution, say
    from radiosim.cli.options import load_scenario
    from radiosim.firmware.settings_header import stamp_of
    from radiosim.report.files import write_folder
    from radiosim.study.fit.probe_files import probe_header, probe_page

    scenario = load_scenario(options.source, options.set_)
    texts = {"probe.h": probe_header(scenario), "probe.md": probe_page(scenario)}
    write_folder(options.to, texts)
    say(f"wrote {', '.join(texts)} in {options.to}: settings {stamp_of(scenario)}")
    print_caution()
    return DONE


@dataclass(frozen=True, kw_only=True)
class FitOptions(Overridden, Seeded, PageAndFiles, Simulates):
    """Options of `radiosim fit`."""

    COMMAND = "fit"

    source: str = argument(
        "SCENARIO", "Scenario file, or name of a shipped scenario.", Mark.SCENARIO
    )
    logs: tuple[str, ...] = argument(
        "LOG...", "Logs of the bench: FILE or UNIT=FILE, of a probe, CSV or VCD.", default=()
    )
    map: str | None = option(
        "WIRE=EVENT,...", "What a VCD's wires are: boot, pass, read:, output:, failsafe:NAME."
    )
    write: Path | None = option(
        "FILE", "Write the scenario with what was fitted to the log.", Mark.TARGET, Mark.UNSAID
    )

    def check(self) -> None:
        """OptionError without a log, or if one would be written over."""
        if not self.logs:
            raise OptionError("LOG: must be given: a probe's file, or lines of text as CSV")
        for log in self.logs:
            path = Path(log.partition("=")[2] or log)
            if self.write is not None and self.write.resolve() == path.resolve():
                raise OptionError(f"--write: must not be a log that is read, got {self.write}")


def fit(options: FitOptions) -> int:
    """Tell which predictions a log of the bench holds, and which setting explains the others.

    Exit code: 0 all held, 1 one did not, 2 refused, 130 stopped."""
    from radiosim.bench_log.read import read_logs
    from radiosim.bench_log.waveforms import wires_of
    from radiosim.cli.harness import origin_of, running
    from radiosim.cli.options import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.fit import fit_report
    from radiosim.study.fit.fit import fit_logs, names_of
    from radiosim.version import VERSION

    scenario = load_scenario(options.source, options.set_, seed=options.seed)
    origin = origin_of(options, options.source, scenario.seed)
    names = names_of(scenario)
    wires = wires_of(options.map, names) if options.map is not None else {}
    logs = read_logs(options.logs, names, wires)
    with running(options, scenario, 1, "simulated logs") as how:
        found = fit_logs(
            scenario,
            logs,
            version=VERSION,
            engine=how["engine"],
            workers=how["workers"],
            executor=how["executor"],
            on_progress=how["on_progress"],
        )
    if options.write is not None:
        _write(options.write, options, found)
    write_report(fit_report(found, origin), options)
    return DONE if found.ok else NOT_HELD


def _write(target: Path, options: FitOptions, found: "Fit") -> None:
    """Write the scenario with what was fitted, its comments kept; tell if nothing was."""
    from radiosim.cli.console import tell
    from radiosim.cli.options import text_of
    from radiosim.report.files import write_whole
    from radiosim.scenario.edited import with_caution
    from radiosim.study.fit.written import fitted_text

    text = text_of(options.source)
    if not text:
        raise OptionError(f"--write: must be for a scenario in a plain file, got {options.source}")
    if not found.settings:
        tell(f"{target}: not written: no setting was fitted")
        return
    write_whole(target, with_caution(fitted_text(text, found, options.set_)))
    lines = (line for one in found.settings for line in one.lines)
    tell(f"wrote {target}, with {', '.join(lines)}")
