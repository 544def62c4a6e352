"""Small studies, and the page of each."""

from functools import cache

from radiosim.layout.compare import compare
from radiosim.report.page import Page
from radiosim.report.page.of_layouts import page_of_layouts
from radiosim.scenario import parse
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.layout_change import LayoutChange, layout_change

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
    "layout compare": layout_page,
}
"""By command."""
