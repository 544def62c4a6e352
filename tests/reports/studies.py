"""Pages of studies that stand in `reports/`: a drill and a tuning, small enough for every test."""

from pathlib import Path

from radiosim.report.page import page_html
from radiosim.report.page.of_drill import page_of_drill
from radiosim.report.page.of_tune import page_of_tune
from radiosim.scenario import load
from radiosim.study.drill import DrillOptions, drill_failsafe
from radiosim.study.range import shortened
from radiosim.study.tune.tuned import confirmed, tuned
from radiosim.study.tune.varied import chosen

SCENARIOS = Path(__file__).parents[2] / "scenarios"
DRILLED, TUNED = "shared-timer", "twin-clocks"
DRILL_PAGE, TUNE_PAGE = f"{DRILLED}-failsafe.html", f"{TUNED}-tune.html"


def drill_page() -> str:
    """A failsafe that cannot work, drilled."""
    given = SCENARIOS / f"{DRILLED}.toml"
    drilled = drill_failsafe(load(given), DrillOptions(repeats=64, hours=1.0))
    page = page_of_drill(
        drilled,
        source=DRILLED,
        scenario_text=given.read_text(encoding="utf-8"),
        command=f"radiosim failsafe {DRILLED} --repeats 64 --hours 1 --page reports/{DRILL_PAGE}",
    )
    return page_html(page)


def tune_page() -> str:
    """Clocks that meet, and the periods that keep them apart."""
    given = SCENARIOS / f"{TUNED}.toml"
    whole = load(given)
    short = shortened(whole, None, None)
    settings, points = chosen(short, (), None)
    page = page_of_tune(
        confirmed(tuned(short, settings, points), whole),
        whole,
        source=TUNED,
        scenario_text=given.read_text(encoding="utf-8"),
        command=f"radiosim tune {TUNED} --page reports/{TUNE_PAGE}",
    )
    return page_html(page)


PAGES = {DRILL_PAGE: drill_page, TUNE_PAGE: tune_page}
