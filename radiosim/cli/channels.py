"""`radiosim channels`: which channels stay clear."""

from dataclasses import dataclass

from radiosim.cli.ending import DONE
from radiosim.cli.options import Files, OfScenario


@dataclass(frozen=True, kw_only=True)
class ChannelsOptions(OfScenario, Files):
    """Options of `radiosim channels`."""

    COMMAND = "channels"


def channels(options: ChannelsOptions) -> int:
    """List the channels inside the band, those that stay clear of interferers first."""
    from radiosim.cli.harness import origin_of
    from radiosim.cli.scenario_source import load_scenario
    from radiosim.cli.targets import write_report
    from radiosim.report.channels import channels_report
    from radiosim.study.channels import channels as found

    scenario = load_scenario(options.source, options.set_)
    origin = origin_of(options, options.source, scenario.seed)
    write_report(channels_report(scenario, found(scenario), origin), options)
    return DONE
