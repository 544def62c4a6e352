"""Pages of studies that stand in `reports/`: a drill and a tuning, small enough for every test."""

from pathlib import Path

from radiosim.report.drill import drill_report
from radiosim.report.tune import tune_report
from radiosim.results.document import Origin
from radiosim.results.html import page_html
from radiosim.scenario import load
from radiosim.study.drill.drill import DrillOptions, drill_failsafe
from radiosim.study.range import shortened
from radiosim.study.tune.confirm import confirmed
from radiosim.study.tune.tuned import tuned
from radiosim.study.tune.varied import chosen
from radiosim.version import VERSION

SCENARIOS = Path(__file__).parents[2] / "scenarios"
DRILLED, TUNED = "shared-timer", "twin-clocks"
DRILL_PAGE, TUNE_PAGE = f"{DRILLED}-failsafe.html", f"{TUNED}-tune.html"


def origin(scenario: str, command: str) -> Origin:
    """Where a page comes from."""
    path = SCENARIOS / f"{scenario}.toml"
    return Origin(
        command=command,
        scenario_name=scenario,
        scenario_text=path.read_text(encoding="utf-8"),
        seed=load(path).seed,
        version=VERSION,
    )


def drill_page() -> str:
    """A failsafe that cannot work, drilled."""
    drilled = drill_failsafe(
        load(SCENARIOS / f"{DRILLED}.toml"), DrillOptions(repeats=64, hours=1.0)
    )
    command = f"radiosim failsafe {DRILLED} --repeats 64 --hours 1 --page reports/{DRILL_PAGE}"
    return page_html(drill_report(drilled, origin(DRILLED, command)))


def tune_page() -> str:
    """Clocks that beat, and the periods that keep them apart."""
    whole = load(SCENARIOS / f"{TUNED}.toml")
    short = shortened(whole, None, None)
    settings, points = chosen(short, (), None)
    found = confirmed(tuned(short, settings, points), short, whole)
    command = f"radiosim tune {TUNED} --page reports/{TUNE_PAGE}"
    return page_html(tune_report(found, origin(TUNED, command)))


PAGES = {DRILL_PAGE: drill_page, TUNE_PAGE: tune_page}
