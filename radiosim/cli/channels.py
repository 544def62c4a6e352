"""`radiosim channels`: which channels stay clear."""

from radiosim.cli.exits import DONE
from radiosim.cli.options import Csv, Json, Parquet, Set, Source


def channels(
    *,
    source: Source,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
) -> int:
    """List the channels inside the band, those that stay clear of interferers first."""
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_report
    from radiosim.report.channels import channels_report
    from radiosim.results.document import Origin
    from radiosim.study.channels import channels
    from radiosim.version import VERSION

    check_targets(json, csv, parquet, scenarios=(source,), set_=set_)
    scenario = scenario_of(Choice(source=source, overrides=tuple(set_ or ())))
    origin = Origin(command="", scenario_name=source, version=VERSION)
    report = channels_report(scenario, channels(scenario), origin)
    write_report(report, json=json, csv=csv, parquet=parquet)
    return DONE
