"""Figure: what happens on the air, in words and as a picture."""

from radiosim.counted import counted
from radiosim.report.figures.canvas import figure
from radiosim.report.figures.strip_lanes import (
    ACKNOWLEDGES,
    DEAF,
    IDLE,
    SETTLES,
    UNHEARD,
    Lane,
    Span,
    StripData,
)
from radiosim.report.figures.strip_paint import LOST, keys, paint
from radiosim.report.spans import union
from radiosim.results.document import Figure
from radiosim.results.formats import duration_text, fmt_count, list_text

LANE_PX, NARROW_LANE_PX = 46, 44
AXIS_PX, KEY_PX, COLUMNS = 70, 18, 3
"""Of the axis below the lanes, of a row of the key, and how many columns a wide one has."""


def figure_of(data: StripData) -> Figure:
    """The figure."""
    entries, lanes = len(keys(data)), len(data.lanes)
    return figure(
        data.name,
        data,
        title=_title(data),
        text=_text(data),
        paint=lambda canvas: paint(canvas, data),
        height_px=AXIS_PX + LANE_PX * lanes + KEY_PX * -(-entries // COLUMNS),
        narrow_height_px=AXIS_PX + NARROW_LANE_PX * lanes + KEY_PX * entries,
    )


def _lost(data: StripData) -> dict[str, int]:
    found: dict[str, int] = {}
    for lane in _lanes(data, "transmitter"):
        for span in lane.spans:
            if span.fate in LOST:
                found[span.fate] = found.get(span.fate, 0) + 1
    return found


def _lanes(data: StripData, kind: str) -> tuple[Lane, ...]:
    return tuple(lane for lane in data.lanes if lane.kind == kind)


def _title(data: StripData) -> str:
    if data.stops is not None:
        return f"{data.about}: {data.stops} (fault of the scenario)"
    sent = sum(len(lane.spans) for lane in _lanes(data, "transmitter"))
    if not sent:
        return f"{data.about}: nobody is on the air"
    lost = sum(_lost(data).values())
    is_ = "is" if lost == 1 else "are"
    return f"{data.about}: {lost} of {counted(sent, 'attempt')} {is_} lost"


def _text(data: StripData) -> str:
    lost = ", ".join(
        f"{LOST[fate].words} {fmt_count(count)}" for fate, count in _lost(data).items()
    )
    if sum(_lost(data).values()) > 1:
        lost += " (close together, one mark stands for several)"
    transmitters = "; ".join(_transmitter(lane) for lane in _lanes(data, "transmitter"))
    fresh = [
        f"{lane.name} {sum(span.fate == 'fresh' for span in lane.spans)}"
        for lane in _lanes(data, "output")
    ]
    values = f" Fresh values in effect: {list_text(fresh)}." if fresh else ""
    left_out = f" Too many to be drawn: {list_text(data.left_out)}." if data.left_out else ""
    return (
        f"Start {data.start}, {data.from_ms:.1f} to {data.to_ms:.1f} ms. {transmitters}. "
        f"Attempts lost: {lost or 'none'}. {_receiver(data)}{values}{left_out}"
    )


def _transmitter(lane: Lane) -> str:
    text = f"{lane.name} is {_on_air(len(lane.spans))}"
    if lane.acknowledgements:
        unheard = sum(span.fate != "taken" for span in lane.acknowledgements)
        text += f", acknowledged {_times(len(lane.acknowledgements))}"
        text += f" ({fmt_count(unheard)} of them lost)" if unheard else ""
    return f"{text}, not running for {_time(lane.down)}" if lane.down else text


def _receiver(data: StripData) -> str:
    (radio,), (passes,) = _lanes(data, "radio"), _lanes(data, "passes")
    deaf = tuple(
        span for span in radio.spans if span.fate in (ACKNOWLEDGES, UNHEARD, SETTLES, DEAF)
    )
    idle = sum(span.fate == IDLE for span in passes.spans)
    reads = len(passes.spans) - idle
    down = f", off for {_time(radio.down)}" if radio.down else ""
    unread = f", {fmt_count(idle)} read nothing" if idle else ""
    hears = (
        f"is deaf for {_time(deaf)}, acknowledgements and turns included"
        if deaf
        else "is never deaf"
    )
    return (
        f"The receiver's radio {hears}{down}; {fmt_count(reads)} of its passes "
        f"{'reads' if reads == 1 else 'read'} frames{unread}."
    )


def _on_air(count: int) -> str:
    return f"on the air {_times(count)}" if count else "not on the air"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{fmt_count(count)} times"


def _time(spans: tuple[Span, ...]) -> str:
    """How long they last together."""
    ns = union((round(span.start_ms * 1e6), round(span.end_ms * 1e6)) for span in spans)
    return duration_text(sum(end - start for start, end in ns) / 1e6)
