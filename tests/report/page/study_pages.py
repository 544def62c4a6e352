"""Small studies, and the page of each."""

from functools import cache

from radiosim.layout.compare import compare
from radiosim.report.page import Page
from radiosim.report.page.of_drill import page_of_drill
from radiosim.report.page.of_layouts import page_of_layouts
from radiosim.report.page.of_tune import page_of_tune
from radiosim.scenario import parse
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.drill import Drilled
from radiosim.study.layout_change import LayoutChange, layout_change
from radiosim.study.tune.tuned import Tuned, tuned
from radiosim.study.tune.varied import grid, parsed
from tests.study.drill.scenarios import HEAD, TIMER, drilled, scenario_with
from tests.study.tune.scenarios import two

LAID = """
starts = 3
duration_s = 5
radio.profile = "gfsk-1M"
[layout.frame]
fields = [
  { name = "count", type = "u8" },
  { name = "pull", type = "i8", scale = 0.01, min = -1.0, max = 1.0 },
]
[transmitter.drive]
layout = "frame"
period_ms = 20
[transmitter.head]
payload_bytes = 4
period_ms = 20
"""
WIDER = LAID.replace('"i8", scale', '"i16", scale').replace(
    "fields = [", 'fields = [\n  { name = "mode", type = "u8" },'
)


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


@cache
def layouts() -> tuple[NamedLayout, NamedLayout]:
    old, new = (
        NamedLayout(
            label="a.toml:frame",
            layout=made.layouts()["frame"],
            abi=None,
            targets={},
            scenario=made,
        )
        for made in (parse(LAID), parse(WIDER))
    )
    return old, new


@cache
def a_change() -> LayoutChange:
    return layout_change(parse(LAID), parse(WIDER), ("drive",), workers=1)


def drill_page() -> Page:
    return page_of_drill(
        a_drill(), source="a", scenario_text="x = 1", command="radiosim failsafe a", speed_m_s=2
    )


def tune_page() -> Page:
    return page_of_tune(a_tuning(), two(), source="a", scenario_text="", command="radiosim tune a")


def layout_page() -> Page:
    old, new = layouts()
    return page_of_layouts(
        compare(old.layout, new.layout),
        old,
        new,
        "own",
        change=a_change(),
        not_simulated="",
        source="a",
        scenario_text="",
        seed=1,
        command="radiosim layout compare a b",
    )


PAGES = {
    "failsafe": drill_page,
    "tune": tune_page,
    "layout compare": layout_page,
}
"""By command."""
