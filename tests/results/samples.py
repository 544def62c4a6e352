"""Reports that hold one of everything."""

from typing import Any

import msgspec

from radiosim.results.document import (
    Column,
    Figure,
    Origin,
    Pictures,
    Report,
    Role,
    Section,
    Sentence,
    Table,
)
from radiosim.results.formats import duration_text, fmt_range


class Rate(msgspec.Struct, frozen=True, kw_only=True):
    """What one stream gets."""

    stream: str
    rate_hz: float | None


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """The data of the sample."""

    starts: int
    rates: tuple[Rate, ...]


FOUND = Found(
    starts=20, rates=(Rate(stream="drive", rate_hz=48.9), Rate(stream="head", rate_hz=None))
)


def role_of(longest_ms: float | None) -> Role | None:
    if longest_ms is None:
        return "bad"
    return "warn" if longest_ms > 1000 else None


def verdict_role(verdict: str) -> Role:
    return "good" if verdict == "steady" else "bad"


STREAMS = Table(
    key="streams",
    caption="Streams",
    columns=(
        Column(key="stream", title="", is_text=True),
        Column(key="rate_hz", title="update rate", unit="values/s", priority=1),
        Column(key="worst_rate_hz", title="worst start", unit="values/s", priority=4),
        Column(key="latency_ms.median", title="median latency", unit="ms", priority=3),
        Column(key="gap_ms.p99", title="99 % gap", unit="ms", priority=2),
        Column(key="gap_ms.max", title="longest gap", show=duration_text, role=role_of),
        Column(key="samples", where="data"),
        Column(key="range", title="predicted", unit="ms", show=fmt_range, where="screen"),
        Column(key="verdict", title="verdict", is_text=True, role=verdict_role),
    ),
    rows=(
        ("drive", 48.9, 48.8, 1.43, 23.0, 5030.0, 15000, (19.5, 24.0), "cut by a fault"),
        ("head_of_the_crawler", 41.8, 41.5, 1.78, 27.2, 71.0, 12000, (22.5, 27.5), "steady"),
        ("spare", None, None, None, None, None, 0, (None, None), "never heard"),
    ),
    note="Gap: from one fresh value to the next.",
)
SHEET = Table(
    key="stops",
    columns=(
        Column(key="turn", is_text=True),
        Column(key="output", is_text=True),
        Column(key="must_show", title="must show", is_text=True, width=24, priority=1),
        Column(key="look_for", title="look for", is_text=True, has_tick=True, priority=4),
        Column(key="reaction_ms", title="reaction, ms D", show=fmt_range, blank="measured"),
        Column(key="bound_ms", title="at most F", priority=2),
        Column(key="back_ms", title="back, ms D", show=fmt_range, blank="measured", priority=3),
    ),
    rows=(
        ("8a drive", "left_track", "1500 us", None, (238.0, 270.0), 279.7, (88.5, 121.0)),
        ("8a drive", "lamp", None, "holds, as the scenario says", None, None, (82.3, 101.9)),
        ("8b head", "pan", "1500 us", None, (584.0, 620.0), 629.7, (2002.0, 2042.0)),
    ),
    group_by="turn",
    under={
        "8a drive": (
            Sentence(text="pan, tilt: untouched", form="tick"),
            Sentence(text="reboot, ms D: 88 to 120", form="blank"),
        )
    },
    where="screen",
)

LIMITS = Table(
    key="limits",
    columns=(
        Column(key="requirement", is_text=True),
        Column(key="holds", is_text=True),
    ),
    rows=(
        (
            "stream.drive.failsafe.nuisance_trips at most 0",
            "stops holding somewhere from 200\N{NO-BREAK SPACE}m to 600\N{NO-BREAK SPACE}m",
        ),
    ),
)


def figure(name: str = "gaps", **changes: Any) -> Figure:
    made = Figure(
        name=name,
        title="drive waits 5.03 s once",
        text="The longest gap is 5.03 s.",
        data={"gap_ms": [23.0, 5030.0]},
        draw=lambda: Pictures(
            wide_svg="<svg viewBox='0 0 720 60'><rect width='720' height='60'/></svg>",
            narrow_svg="<svg viewBox='0 0 328 60'><rect width='328' height='60'/></svg>",
        ),
    )
    return msgspec.structs.replace(made, **changes)


ORIGIN = Origin(
    command="radiosim run culvert-crawler --set transmitter.head.period_ms=23 --page crawler.html",
    scenario_name="culvert-crawler",
    scenario_text='title = "Culvert crawler"\n',
    seed=1,
    version="0.1.0",
)
REPORT = Report(
    title="Culvert crawler",
    subject="A simulated radio control link",
    done="20 starts of 5 min, 1 h 40 min in all",
    verdict="FAILED: lamp is STILL DRIVEN after a fault.",
    is_well=False,
    warnings=(
        Sentence(text="lamp: NO BOUND on the time until failsafe.", role="bad"),
        Sentence(text="2 requirements could not be judged.", role="warn"),
    ),
    sections=(
        Section(
            heading="Streams",
            sentences=("Every stream gets its values.",),
            tables=(STREAMS,),
            figures=(figure(),),
        ),
        Section(
            heading="To try",
            role="change",
            sentences=(
                Sentence(
                    text="--set failsafe.head.watch_field=count",
                    form="code",
                ),
                Sentence(lead="WHY", text="The values of head freeze for good."),
                Sentence(lead="MEASURE", text="Wheels off the ground: let head repeat a frame."),
            ),
        ),
        Section(
            heading="Failsafe",
            tables=(LIMITS,),
            sentences=(
                Sentence(text="assumed: 5-byte addresses", form="item"),
                Sentence(text="assumed: a 2-byte CRC", form="item"),
            ),
        ),
    ),
    cautions=("A simulation is not proof. Wheels off the ground, propellers off.",),
    data=FOUND,
    origin=ORIGIN,
)
PAPER = Report(
    title="Culvert crawler",
    subject="Bench test sheet",
    done="",
    sections=(
        Section(heading="Failsafe", sentences=("All on and steering.",)),
        Section(
            heading="8. Off and on again",
            is_step=True,
            sentences=("Switch its supply off, then on again.",),
            tables=(SHEET,),
        ),
    ),
    cautions_first=("Wheels off the ground, tracks free, propellers off.",),
    blanks=("Date", "Units"),
    data=FOUND,
    origin=ORIGIN,
)


def changed(**changes: Any) -> Report:
    """The sample with other parts."""
    return msgspec.structs.replace(REPORT, **changes)
