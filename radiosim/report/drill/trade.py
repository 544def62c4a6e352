"""The trade of timeouts as a small table with a curve in text."""

import math
from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.text import Text

from radiosim.report.terminal.parts import Cell, block, hanging, table
from radiosim.report.terminal.words import digits, limit, span
from radiosim.study.drill.results import Drilled, Room, TradePoint

CURVE_WIDTH = 20
MOST_ROWS = 10


def trade_lines(drilled: Drilled) -> Iterator[RenderableType]:
    """Each stream's curve, and the room between what was asked."""
    if not drilled.trade:
        return
    for stream, curve in drilled.trade.items():
        title = f"Timeout of {stream}: trips for nothing against time to a stop"
        highest = max(point.nuisance_per_hour for point in curve)
        rows = [_row(point, highest) for point in shown(curve)]
        columns = (
            "  timeout\n  ms",
            " trips\n an hour",
            " 95 % sure\n between",
            "stop within\nms",
            " trips an hour\n",
        )
        texts = [Text(f"  {text}") for text in room_texts(drilled, stream)]
        yield block(title, table(columns, rows), hanging([(text,) for text in texts]))
    yield Text(_footer(drilled), style="dim")
    yield Text()


def shown(curve: Sequence[TradePoint]) -> list[TradePoint]:
    """The points where something changes, no more than a screen has room for."""
    kept = [
        point
        for number, point in enumerate(curve)
        if number in (0, len(curve) - 1) or point.nuisance_trips != curve[number - 1].nuisance_trips
    ]
    step = max(1, math.ceil((len(kept) - 1) / (MOST_ROWS - 1)))
    return [*kept[:-1:step], kept[-1]] if len(kept) > 1 else kept


def _row(point: TradePoint, highest: float) -> Sequence[Cell]:
    interval = point.nuisance_per_hour_ci95
    length = round(CURVE_WIDTH * point.nuisance_per_hour / highest) if highest else 0
    bar = "#" * length if length or not point.nuisance_trips else "."
    between = "-" if interval is None else f"{digits(interval[0])} to {digits(interval[1])}"
    stop = "none" if point.worst_stop_ms is None else digits(point.worst_stop_ms)
    rate = digits(point.nuisance_per_hour)
    return f"  {limit(point.timeout_ms)}", rate, between, stop, bar


def room_texts(drilled: Drilled, stream: str) -> Iterator[str]:
    """What the two limits leave."""
    room, asked = drilled.room[stream], drilled.asked
    now = f"under {limit(asked.nuisance_per_hour)} trips an hour"
    soon = f"stop within {limit(asked.stop_ms[stream])} ms"
    yield f"{now}: {_from(room)}; {soon}: {_up_to(room)}"
    if room.has_room:
        yield f"ROOM: any timeout from {limit(room.shortest_ms or 0)} to {limit(room.longest_ms or 0)} ms keeps both"
    else:
        yield f"NO ROOM: {room.why}"


def _from(room: Room) -> str:
    return "no timeout tried" if room.shortest_ms is None else f"from {limit(room.shortest_ms)} ms"


def _up_to(room: Room) -> str:
    return "no timeout" if room.longest_ms is None else f"up to {limit(room.longest_ms)} ms"


def _footer(drilled: Drilled) -> str:
    text = f"All timeouts were tried on the same {span(drilled.trade_s)} without faults."
    if drilled.asked.defaults:
        text += f" Nobody asked, so: {'; '.join(drilled.asked.defaults)}."
    return text
