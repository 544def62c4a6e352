"""Small studies, and the page of each."""

from functools import cache

from radiosim.report.page import Page
from radiosim.report.page.of_drill import page_of_drill
from radiosim.report.page.of_tune import page_of_tune
from radiosim.study.drill import Drilled
from radiosim.study.tune.tuned import Tuned, tuned
from radiosim.study.tune.varied import grid, parsed
from tests.study.drill.scenarios import HEAD, TIMER, drilled, scenario_with
from tests.study.tune.scenarios import two


@cache
def a_drill() -> Drilled:
    """Two streams, one of them fed by the other: something is left alive."""
    return drilled(scenario_with(TIMER + 'fed_by = "any"\n' + HEAD), repeats=8)


@cache
def a_sound_drill() -> Drilled:
    return drilled(scenario_with(TIMER), "power_off", repeats=8, hours=0.2)


@cache
def a_tuning() -> Tuned:
    settings = (
        parsed("transmitter.drive.period_ms=10,20,23,40"),
        parsed("transmitter.head.period_ms=13,20,23"),
    )
    return tuned(two(), settings, grid(settings), workers=1)


def drill_page() -> Page:
    return page_of_drill(
        a_drill(), source="a", scenario_text="x = 1", command="radiosim failsafe a", speed_m_s=2
    )


def tune_page() -> Page:
    return page_of_tune(a_tuning(), two(), source="a", scenario_text="", command="radiosim tune a")


PAGES = {
    "failsafe": drill_page,
    "tune": tune_page,
}
"""By command."""
