"""Figure: what happens on the air, in words and as a picture."""

from radiosim.counted import counted
from radiosim.report.figures.canvas import drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.figures.strip_lanes import (
    ANSWERS,
    DEAF,
    IDLE,
    IN_VAIN,
    SETTLES,
    Lane,
    Span,
    StripData,
)
from radiosim.report.figures.strip_paint import LOST, keys, paint
from radiosim.report.spans import union
from radiosim.report.terminal.words import digits, listed, whole

LANE_PX, NARROW_LANE_PX = 46, 44
AXIS_PX, KEY_PX, COLUMNS = 70, 18, 3
"""Of the axis below the lanes, of a row of the key, and how many columns a wide one has."""


def draw(data: StripData) -> Drawn:
    """The figure."""
    entries, lanes = len(keys(data)), len(data.lanes)
    return drawn(
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
    bring = "brings" if lost == 1 else "bring"
    return f"{data.about}: {lost} of {counted(sent, 'attempt')} {bring} nothing"


def _text(data: StripData) -> str:
    lost = ", ".join(f"{LOST[fate].words} {whole(count)}" for fate, count in _lost(data).items())
    if sum(_lost(data).values()) > 1:
        lost += " (close together, one mark stands for several)"
    transmitters = "; ".join(_transmitter(lane) for lane in _lanes(data, "transmitter"))
    fresh = [
        f"{lane.name} {sum(span.fate == 'fresh' for span in lane.spans)}"
        for lane in _lanes(data, "output")
    ]
    values = f" Fresh values in effect: {listed(tuple(fresh))}." if fresh else ""
    left_out = f" Too many to be drawn: {listed(data.left_out)}." if data.left_out else ""
    return (
        f"Start {data.start}, {data.from_ms:.1f} to {data.to_ms:.1f} ms. {transmitters}. "
        f"Attempts that bring nothing: {lost or 'none'}. {_receiver(data)}{values}{left_out}"
    )


def _transmitter(lane: Lane) -> str:
    text = f"{lane.name} is {_on_air(len(lane.spans))}"
    if lane.answers:
        vain = sum(span.fate != "taken" for span in lane.answers)
        text += f", acknowledged {_times(len(lane.answers))}"
        text += f" ({whole(vain)} of them lost)" if vain else ""
    return f"{text}, not running for {_ms(lane.down)} ms" if lane.down else text


def _receiver(data: StripData) -> str:
    (radio,), (passes,) = _lanes(data, "radio"), _lanes(data, "passes")
    deaf = tuple(it for it in radio.spans if it.fate in (ANSWERS, IN_VAIN, SETTLES, DEAF))
    idle = sum(span.fate == IDLE for span in passes.spans)
    reads = len(passes.spans) - idle
    down = f", off for {_ms(radio.down)} ms" if radio.down else ""
    told = f", {whole(idle)} read nothing" if idle else ""
    hears = f"is deaf for {_ms(deaf)} ms, answers and turns included" if deaf else "is never deaf"
    return (
        f"The receiver's radio {hears}{down}; {whole(reads)} of its passes "
        f"{'reads' if reads == 1 else 'read'} frames{told}."
    )


def _on_air(count: int) -> str:
    return f"on the air {_times(count)}" if count else "not on the air"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{whole(count)} times"


def _ms(spans: tuple[Span, ...]) -> str:
    """How long they last together."""
    ns = union((round(span.start_ms * 1e6), round(span.end_ms * 1e6)) for span in spans)
    return digits(sum(end - start for start, end in ns) / 1e6)
