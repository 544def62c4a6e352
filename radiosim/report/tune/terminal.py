"""A tuning in 80 columns: what to take and why, then what else there is."""

from collections.abc import Iterator, Sequence

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.radio.retry_delay import with_step
from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, printable, span
from radiosim.study.tune.tuned import Tried, Tuned

LETTERS = {"collision": "C", "deaf": "D", "range": "R", "chance": "L", "full FIFO": "F"}
MOST_CELLS = 30
CAUTION = (
    "A simulation is not proof: try the settings on the bench, wheels off the ground and "
    "propellers off, and let both senders run for longer than their clocks take to meet. Check "
    "your local radio rules."
)


def print_tuned(found: Tuned, console: Console) -> None:
    """Print the recommendation first."""
    seconds = span(found.starts * found.duration_s)
    head = f"{printable(found.scene)}: {len(found.points):,} points of {seconds}"
    console.print(Text(head, style="bold"))
    console.print()
    for part in _parts(found):
        console.print(Trimmed(part=part))
    console.print(Trimmed(part=Text(CAUTION)))


def _parts(found: Tuned) -> Iterator[RenderableType]:
    yield block("Recommended", *_best(found))
    if found.assumed:
        yield block(
            "Required, because the scene asks for nothing",
            *(Text(f"  {printable(text)}") for text in found.assumed),
        )
    if found.runners_up:
        yield block("Next best", _table(found, found.runners_up))
    if found.front:
        yield block(
            "Least delay, air time or charge among those that hold", _table(found, found.front[:8])
        )
    if found.best is not None:
        yield block("What the periods say beforehand", _pairs(found.best))
    yield block("Which settings matter (share of the margin's variance)", _influence(found))
    yield from _map(found)


def _best(found: Tuned) -> Iterator[RenderableType]:
    best = found.best
    if best is None:
        yield Text(f"  none: {printable(found.why)}")
        return
    yield hanging(
        [
            ("  --set", line, _said(setting.key, value))
            for setting, value in zip(found.settings, best.values, strict=True)
            for line in [setting.line(value)]
        ]
    )
    mark = "  " if best.ok and not best.is_near else "! "
    yield Text(f"{mark}{printable(found.why)}.")


def _said(key: str, value: float) -> str:
    return with_step(value) if key.endswith(".retry_delay_us") else ""


def _table(found: Tuned, points: Sequence[Tried]) -> RenderableType:
    rows = [
        (
            ", ".join(f"{value:g}" for value in it.values),
            "-" if it.margin is None else f"{100 * it.margin:.0f}",
            digits(it.row["latency_p99_ms"]),
            f"{100 * it.row['air_time_share']:.3g}",
            digits(it.row["charge_mah_per_hour"]),
            "meet" if it.is_near else "",
        )
        for it in points
    ]
    names = ", ".join(_short(setting.key) for setting in found.settings)
    columns = (names, "margin\n%", "delay p99\nms", "air\n%", "senders\nmA", " clocks")
    return table(columns, rows)


def _short(key: str) -> str:
    """A key without what all have in common."""
    return (
        key.removeprefix("transmitter.").replace("retry_", "").replace("_ms", "").replace("_us", "")
    )


def _pairs(best: Tried) -> RenderableType:
    rows = []
    for pair in best.row["pairs"]:
        verdict = "meet by drift" if pair["is_near"] else "lose single frames only"
        text = f"{100 * pair['clash_share']:.2g} % of frames clash; they {verdict}: "
        text += (
            f"{pair['distance_ms']:.3g} ms from a multiple, {pair['window_ms']:.3g} would be near"
        )
        if pair["every_s"] is not None:
            text += f"; {pair['spell_frames']:.0f} frames in a row, every {span(pair['every_s'])}"
        rows.append((f"  {printable(pair['first'])}, {printable(pair['second'])}", text))
    return (
        hanging(rows)
        if rows
        else Text("  no two senders keep a timer: their clocks cannot drift into each other")
    )


def _influence(found: Tuned) -> RenderableType:
    ranked = sorted(found.influence.items(), key=lambda it: -it[1])
    rows = [
        (f"  {printable(key)}", f"{share:.2f}", "#" * round(20 * share)) for key, share in ranked
    ]
    return table(("", "share", " "), rows)


def _map(found: Tuned) -> Iterator[RenderableType]:
    """Over the two periods that vary: a dot where all holds at some point, else what broke it."""
    periods = [k for k, it in enumerate(found.settings) if it.key.endswith(".period_ms")]
    if len(periods) < 2:
        return
    across, down = periods[0], periods[1]
    cells: dict[tuple[float, float], Tried] = {}
    for it in found.points:
        if it.margin is None:
            continue
        place = (it.values[across], it.values[down])
        before = cells.get(place)
        if before is None or before.margin is None or it.margin > before.margin:
            cells[place] = it
    columns = sorted({place[0] for place in cells})[:MOST_CELLS]
    lines = []
    for row in sorted({place[1] for place in cells}):
        letters = "".join(_letter(cells.get((column, row))) for column in columns)
        lines.append(Text(f"  {row:>5g}  {letters}"))
    ends = f"{columns[0]:g} to {columns[-1]:g}" if columns else ""
    title = f"{found.settings[down].key} down, {found.settings[across].key} across ({ends})"
    legend = "  . holds   ~ holds, clocks meet   " + "   ".join(
        f"{letter} {cause}" for cause, letter in LETTERS.items()
    )
    yield block(printable(title), *lines, Text(legend))


def _letter(it: Tried | None) -> str:
    if it is None:
        return " "
    if it.ok:
        return "~" if it.is_near else "."
    return LETTERS[it.row["cause"]]
