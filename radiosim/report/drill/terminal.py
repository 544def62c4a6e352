"""The drill in 80 columns: the worst first, then the table, the bound's terms, the trade."""

from collections.abc import Iterator

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.report.drill.verdict import Examined
from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, printable
from radiosim.study.drill.drilled import OutputDrill, Spread, StreamBound
from radiosim.study.drill.trade import Room, Trade

BAR = 24
NOTE = (
    "Stick positions that failsafe waits for before it lets go (resume_needs) are left out: what "
    "comes back waits for those besides."
)
CAUTION = (
    "A simulation is not proof. Do the same on the bench: wheels off the ground, propellers off, "
    "each unit switched off in turn, a stopwatch or a camera on the motor. Check your local radio "
    "rules before you transmit."
)


def print_drill(found: Examined, console: Console) -> None:
    """Print what every fault does to every output."""
    drilled = found.drilled
    head = f"{printable(drilled.scene)}: each fault tried in {drilled.tries} starts"
    console.print(Text(head, style="bold"))
    console.print()
    for part in (_verdict(found), _drills(found), *_bounds(found), *_trades(found)):
        console.print(Trimmed(part=part))
    if any(timer.resume_needs is not None for timer in found.scenario.failsafe.values()):
        console.print(Trimmed(part=Text(NOTE)))
    console.print(Trimmed(part=Text(CAUTION)))


def _verdict(found: Examined) -> RenderableType:
    rows = [("!", text) for text in _hazards(found)]
    rows += [("!", printable(text)) for text in found.drilled.others]
    for it in found.judged:
        measured = "never" if it.measured is None else digits(it.measured)
        mark = "ok" if it.ok else "!"
        said = "" if it.ok else "FAILED: "
        rows.append((mark, f"{said}{printable(it.figure)} is {measured}, at most {it.at_most:g}"))
    held = [row for row in found.drilled.drills if row.alive and not row.is_failed]
    for name in dict.fromkeys(row.output for row in held):
        rows.append((" ", f"{printable(name)} holds its last value, as the scene says"))
    if found.ok:
        rows.insert(0, ("ok", "every output that must stop did, in every try"))
    for stream, worst in found.drilled.worst_stop_ms.items():
        if worst is not None:
            rows.append(
                (
                    " ",
                    f"{printable(stream)}: stopped after {digits(worst)} ms at worst"
                    + _way(found, worst),
                )
            )
    return block("Verdict", hanging(rows, widths=(2,)))


def _hazards(found: Examined) -> Iterator[str]:
    """One line a fault: outputs that share it and its cause stand together."""
    grouped: dict[tuple[str, str], list[OutputDrill]] = {}
    for row in found.failures:
        grouped.setdefault((row.fault, row.why), []).append(row)
    for (fault, why), rows in grouped.items():
        names = ", ".join(row.output for row in rows)
        verb = "stays" if len(rows) == 1 else "stay"
        most = max(rows, key=lambda row: row.alive)
        often = "" if most.alive == most.tries else f" in {most.alive} of {most.tries} tries"
        yield printable(f"{fault}: {names} {verb} ALIVE{often}: {why}")


def _way(found: Examined, ms: float) -> str:
    if found.speed_m_s is None:
        return ""
    return f", {found.speed_m_s * ms / 1000:.2g} m at {found.speed_m_s:g} m/s"


def _drills(found: Examined) -> RenderableType:
    rows: list[tuple[str, ...]] = []
    last = ""
    for row in found.drilled.drills:
        if row.fault != last:
            rows.append((printable(row.fault), "", "", "", "", "", ""))
            last = row.fault
        rows.append(
            (
                f"  {printable(row.output)}",
                _alive(row, row.stop_ms.median),
                _alive(row, row.stop_ms.worst),
                "" if row.reachable_ms is None else digits(row.reachable_ms),
                "" if row.bound_ms is None else digits(row.bound_ms),
                _still(row.standstill_ms, row.stop_ms),
                "" if row.recovered_ms.worst is None else digits(row.recovered_ms.worst),
            )
        )
    columns = ("", "usual\nms", "worst\nms", "can be\nms", "bound\nms", "still\nms", "back\nms")
    return block(
        "From the fault to the failsafe value in effect (still: to standstill; back: fresh again)",
        table(columns, rows),
    )


def _alive(row: OutputDrill, value: float | None) -> str:
    if row.alive and row.alive == row.tries:
        return "ALIVE" if row.is_failed else "holds"
    return "" if value is None else digits(value)


def _still(still: Spread, stop: Spread) -> str:
    return "" if still.worst is None or still.worst == stop.worst else digits(still.worst)


def _bounds(found: Examined) -> Iterator[RenderableType]:
    for stream, bound in found.drilled.bounds.items():
        title = f"Bound of {printable(stream)}, by {printable(bound.output)}: what to shorten"
        yield block(title, _terms(bound))


def _terms(bound: StreamBound) -> RenderableType:
    if bound.total_ms is None:
        return Text(f"  NO BOUND: {bound.why}")
    rows = [
        (f"  {name}", digits(ms), "#" * max(1, round(BAR * ms / bound.total_ms)))
        for name, ms in bound.terms.items()
    ]
    return table(("", "ms", " share"), [*rows, ("  together", digits(bound.total_ms), "")])


def _trades(found: Examined) -> Iterator[RenderableType]:
    for stream, rows in found.trades.items():
        yield block(
            f"Timeout of {printable(stream)}: trips for nothing against stopping time",
            _trade(found, stream, rows),
            Text(room_text(found, found.rooms[stream])),
        )


def _trade(found: Examined, stream: str, rows: tuple[Trade, ...]) -> RenderableType:
    now_ms = found.scenario.failsafe[stream].timeout_ms
    cells = [
        (
            f"{row.timeout_ms:g}" + (" (now)" if row.timeout_ms == now_ms else ""),
            digits(row.nuisance_per_hour),
            _interval(row),
            "no bound" if row.worst_stop_ms is None else digits(row.worst_stop_ms),
        )
        for row in rows
    ]
    return table(("timeout\nms", "trips\nan hour", " 95 %", "stops\nwithin ms"), cells)


def _interval(row: Trade) -> str:
    ends = row.nuisance_per_hour_ci95
    return "" if ends is None else f"{digits(ends[0])} to {digits(ends[1])}"


def room_text(found: Examined, room: Room) -> str:
    """Whether any timeout does both, in a sentence."""
    asked = f"at most {found.nuisance_per_hour:g} trips an hour and {found.stop_ms:g} ms to a stop"
    if room.is_there:
        return f"Room: {room.shortest_ms:g} to {room.longest_ms:g} ms keep {asked}."
    if room.shortest_ms is None and room.longest_ms is None:
        return f"NO ROOM: no timeout keeps {asked}; none keeps either."
    if room.shortest_ms is None:
        return f"NO ROOM for {asked}: every timeout trips more often."
    if room.longest_ms is None:
        return f"NO ROOM for {asked}: no timeout stops so soon."
    return (
        f"NO ROOM for {asked}: trips ask for {room.shortest_ms:g} ms or more, the stop for "
        f"{room.longest_ms:g} ms or less."
    )
