"""Two layouts of one frame, and a link simulated with both."""

from functools import cache

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
            label=f"{name}.toml:frame",
            layout=made.layouts()["frame"],
            abi=None,
            targets={},
            scenario=made,
        )
        for name, made in (("old", parse(LAID)), ("new", parse(WIDER)))
    )
    return old, new


@cache
def a_change() -> LayoutChange:
    return layout_change(parse(LAID), parse(WIDER), ("drive",), workers=1)
