"""The trade of timeouts as a small table with a curve in text."""

import math
from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.text import Text

from radiosim.counted import counted
from radiosim.report.terminal.parts import Cell, block, hanging, table
from radiosim.report.terminal.words import digits, limit, share, span
from radiosim.study.drill.results import Drilled, Room, TradePoint

CURVE_WIDTH = 20
MOST_ROWS = 10
MUCH_MORE = 1.2
"""How much more time than was asked for is worth a word: more than rounding up to whole starts."""


def trade_lines(drilled: Drilled) -> Iterator[RenderableType]:
    """Each stream's curve, and the room between what was asked."""
    if not drilled.trade:
        return
    for stream, curve in drilled.trade.items():
        title = f"Timeout of {stream}: trips for nothing against time to a stop"
        highest = max(point.nuisance_per_hour for point in curve)
        now_ms = drilled.timeout_ms[stream]
        rows = [_row(point, highest, now_ms) for point in shown(curve, now_ms)]
        columns = (
            "timeout\nms",
            "trips\nan hour",
            "95 % sure:\nbetween",
            "stop within\nms",
            " trips",
        )
        texts = [Text(text) for text in room_texts(drilled, stream)]
        yield block(title, table(columns, rows), hanging([(text,) for text in texts]))
    yield Text(trade_note(drilled), style="dim")
    yield Text()


def shown(curve: Sequence[TradePoint], now_ms: float) -> list[TradePoint]:
    """Some points from first to last, and the timeout that the scenario has."""
    step = max(1, math.ceil((len(curve) - 1) / (MOST_ROWS - 1)))
    last = len(curve) - 1
    return [
        point
        for number, point in enumerate(curve)
        if number % step == 0 or number == last or point.timeout_ms == now_ms
    ]


def _row(point: TradePoint, highest: float, now_ms: float) -> Sequence[Cell]:
    interval = point.nuisance_per_hour_ci95
    length = round(CURVE_WIDTH * point.nuisance_per_hour / highest) if highest else 0
    bar = "#" * length if length or not point.nuisance_trips else "."
    between = "-" if interval is None else f"{digits(interval[0])} to {digits(interval[1])}"
    stop = "none" if point.worst_reaction_ms is None else digits(point.worst_reaction_ms)
    if point.is_dead:
        bar = f"DEAD: alive {share(point.alive_share)}"
    mark = " <- now" if point.timeout_ms == now_ms else ""
    return (
        limit(point.timeout_ms),
        digits(point.nuisance_per_hour),
        between,
        stop,
        f"{bar}{mark}".strip(),
    )


def room_texts(drilled: Drilled, stream: str) -> Iterator[str]:
    """What the two limits leave."""
    room, asked = drilled.room[stream], drilled.asked
    now = f"under {counted(asked.nuisance_per_hour, 'trip')} an hour"
    soon = f"stop within {limit(asked.reaction_ms[stream])} ms"
    yield f"{now}: {_from(room)}; {soon}: {_up_to(room)}"
    if room.has_room:
        shortest, longest = limit(room.shortest_ms or 0), limit(room.longest_ms or 0)
        yield f"ROOM: any timeout from {shortest} to {longest} ms keeps both"
    else:
        yield f"{'NOT SHOWN' if room.is_unshown else 'NO ROOM'}: {room.why}"


def _from(room: Room) -> str:
    return (
        ("not shown" if room.is_unshown else "no timeout tried")
        if room.shortest_ms is None
        else f"from {limit(room.shortest_ms)} ms"
    )


def _up_to(room: Room) -> str:
    return "no timeout" if room.longest_ms is None else f"up to {limit(room.longest_ms)} ms"


def trade_note(drilled: Drilled) -> str:
    """On what timeouts were tried, and what nobody asked for."""
    text = f"All timeouts were tried on the same {span(drilled.trade_s)} without faults."
    hours = drilled.asked.hours
    if hours is not None and drilled.trade_s > MUCH_MORE * 3600 * hours:
        text += (
            f" {limit(hours)} h (--hours) were too short for that: it takes a few starts, each as "
            "long as the scenario."
        )
    if any(point.is_dead for curve in drilled.trade.values() for point in curve):
        text += " DEAD: alive for less than half of the time; what is on failsafe does not trip."
    if drilled.asked.defaults:
        text += f" Nobody asked, so: {'; '.join(drilled.asked.defaults)}."
    return text
