"""`radiosim channels`: which channels stay clear."""

from radiosim.cli.exits import DONE
from radiosim.cli.options import Csv, Json, Parquet, Set, Source
from radiosim.cli.source import OptionError


def channels(
    *,
    source: Source,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
) -> int:
    """List channels that stay clear of the scenario's interferers and inside the band, best
    first."""
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_out
    from radiosim.report.channels import channels_csv, channels_json, print_channels
    from radiosim.study.channels import channels

    check_targets(json, csv, parquet, scenarios=(source,), set_=set_)
    scenario = scenario_of(Choice(source=source, overrides=tuple(set_ or ())))
    if scenario.air.range is None:
        raise OptionError(
            f"{source}: interferer: must name who else sends, as --set "
            "'interferer.house={kind=\"bursts\",channel_mhz=2437}' (radiosim glossary interferer)"
        )
    found = channels(scenario)
    write_out(
        json,
        csv,
        lambda: channels_json(scenario, found),
        lambda: channels_csv(found),
        lambda console: print_channels(scenario, found, console),
        parquet=parquet,
    )
    return DONE
