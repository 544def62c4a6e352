"""The command `probe`: what units log on the bench."""

from dataclasses import dataclass
from pathlib import Path

from radiosim.cli.console import DONE
from radiosim.cli.options import REQUIRED, OfScenario, option


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
