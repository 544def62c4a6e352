"""A tuning in 80 columns: what to take and why, then what else there is."""

import math
from collections.abc import Iterator, Sequence

from rich.console import Console, RenderableType
from rich.text import Text

from radiosim.report.terminal.parts import Trimmed, block, hanging, table
from radiosim.report.terminal.words import digits, printable, share, span
from radiosim.report.tune.map import (
    HOLDS,
    HOLDS_NEAR,
    LETTERS,
    NOTHING,
    REFUSED,
    Map,
    map_of,
    own_cell_text,
    paces_of,
)
from radiosim.report.tune.words import (
    CAUTION,
    confirmation_text,
    head_text,
    price_text,
    said_of,
    short_key,
    stands_text,
    values_text,
    warning_texts,
)
from radiosim.study.tune.rank import Tried
from radiosim.study.tune.tuned import Tuned

MOST_OF_FRONT = 8


def print_tuned(found: Tuned, console: Console) -> None:
    """Print the recommendation first."""
    console.print(Text(head_text(found), style="bold"))
    console.print()
    for part in _parts(found):
        console.print(Trimmed(part=part))
    console.print(Trimmed(part=Text(CAUTION)))


def _parts(found: Tuned) -> Iterator[RenderableType]:
    yield block("Recommended", *_recommended(found))
    yield block("As it stands", _stands(found))
    if found.assumed:
        yield block(
            "Required, because the scenario asks for nothing",
            *(Text(f"  {printable(text)}") for text in found.assumed),
        )
    if found.runners_up:
        yield block("Next best", _table(found, found.runners_up))
    if found.front:
        yield block(
            "Least delay, air time or charge among those that hold",
            _table(found, found.front[:MOST_OF_FRONT]),
            *_more(len(found.front) - MOST_OF_FRONT),
        )
    if found.best is not None and found.best.row["pairs"]:
        yield block("What the periods say, beside what was simulated", *_closed_forms(found.best))
    yield from _map(found)
    yield block("Which settings matter: shares of the margin's variance", _influence(found))


def _recommended(found: Tuned) -> Iterator[RenderableType]:
    best = found.best
    if best is None:
        yield Text(f"  none: {printable(found.why)}")
        return
    yield hanging(
        [
            ("  keep", setting.key, "")
            if math.isnan(value)
            else ("  --set", setting.line(value), said_of(setting.key, value))
            for setting, value in zip(found.settings, best.values, strict=True)
        ]
    )
    is_sound = found.ok and not best.is_near
    lines = [("  " if is_sound else "! ", f"{printable(found.why[0].upper() + found.why[1:])}.")]
    lines += [confirmation_text(found, it) for it in found.confirmed]
    lines.append(("  ", price_text(best)))
    lines += [("! ", text) for text in warning_texts(found)]
    yield hanging(lines)


def _stands(found: Tuned) -> RenderableType:
    """The scenario without a change: whether it holds, and what it relies on."""
    it = found.as_it_stands
    is_sound = it.margin is not None and it.ok and not it.is_near
    mark = "  " if is_sound else "! "
    if it.margin is None:
        return hanging([(mark, text) for text in stands_text(found)])
    values, text, price = stands_text(found)
    return hanging([("  ", values), (mark, text), ("  ", price)])


def _table(found: Tuned, points: Sequence[Tried]) -> RenderableType:
    rows = [
        (
            values_text(it.values),
            "-" if it.margin is None else f"{100 * it.margin:.0f}",
            digits(it.row["latency_p99_ms"]),
            f"{100 * it.row['duty_cycle']:.3g}",
            digits(it.row["charge_mah_per_hour"]),
            "beat" if it.is_near else "",
        )
        for it in points
    ]
    names = ", ".join(short_key(setting.key) for setting in found.settings)
    columns = (
        printable(names),
        "margin\n%",
        "delay p99\nms",
        "air\n%",
        "charge\nmAh/h",
        " clocks",
    )
    return table(columns, rows)


def _more(count: int) -> Iterator[RenderableType]:
    if count > 0:
        yield Text(f"  and {count} more: --csv, --json")


def _closed_forms(best: Tried) -> Iterator[RenderableType]:
    yield table(
        ("  frames that clash", "closed form", "simulated"),
        [
            (
                f"  {printable(name)}",
                share(it["predicted_clash_share"]),
                share(it["clash_share"]),
            )
            for name, it in best.row["streams"].items()
        ],
    )
    for pair in best.row["pairs"]:
        names = f"{printable(pair['first'])}, {printable(pair['second'])}"
        distance, window = f"{pair['distance_ms']:.3g}", f"{pair['window_ms']:.3g}"
        if pair["is_near"]:
            every = "for good" if pair["every_s"] is None else f"every {span(pair['every_s'])}"
            text = (
                f"BEAT: {distance} ms from a multiple, within {window}; "
                f"{pair['burst_frames']:.0f} frames in a row or more, as often as {every}"
            )
        else:
            text = f"lose single frames: {distance} ms from a multiple, {window} would be near"
        yield hanging([(f"  {names}", text)])


def _influence(found: Tuned) -> RenderableType:
    if found.influence_unknown:
        return Text(f"  {found.influence_unknown}")
    ranked = sorted(found.influence.items(), key=lambda it: -it[1].alone)
    is_grid = any(it.in_all is not None for _, it in ranked)
    rows = [
        (
            f"  {printable(key)}",
            f"{it.alone:.2f}",
            *((f"{it.in_all or 0.0:.2f}",) if is_grid else ()),
            "#" * round(20 * it.alone),
        )
        for key, it in ranked
    ]
    rest = max(0.0, 1 - sum(it.alone for _, it in ranked))
    rows.append(("  the rest: together, or chance", f"{rest:.2f}", *(("",) if is_grid else ()), ""))
    return table(("", "alone", *(("in all",) if is_grid else ()), " "), rows)


def _map(found: Tuned) -> Iterator[RenderableType]:
    """Over the two periods that vary: a dot where all holds at some point, else what broke it."""
    periods = paces_of(found)
    if len(periods) < 2:
        return
    across, down = periods[0], periods[1]
    made = map_of(found.points, across, down)
    yield block(
        "Where it breaks: the best point of each cell",
        Text(f"  {printable(found.settings[down].key)} down,"),
        Text(f"  {printable(found.settings[across].key)} across, {_ends(made)}"),
        *(
            Text(f"  {_row(ends):>9}  {letters}")
            for ends, letters in zip(made.down, made.letters, strict=True)
        ),
        hanging([("  ", _legend(made)), *_own_cell(found, made, (across, down))]),
    )


def _own_cell(found: Tuned, made: Map, settings: tuple[int, int]) -> Iterator[tuple[str, str]]:
    text = own_cell_text(found, made, *settings)
    if text:
        yield "! ", text


def _ends(made: Map) -> str:
    return f"{made.across[0][0]:g} to {made.across[-1][1]:g}" if made.across else ""


def _row(ends: tuple[float, float]) -> str:
    low, high = ends
    return f"{low:g}" if low == high else f"{low:g}-{high:g}"


def _legend(made: Map) -> str:
    words = {HOLDS: "holds", HOLDS_NEAR: "holds, clocks beat", REFUSED: "no sound scenario"}
    words |= {letter: f"broken: {cause}" for cause, letter in LETTERS.items()}
    said = [f"{letter} {words[letter]}" for letter in made.used if letter in words]
    return "   ".join([*said, *(["blank: not tried"] if NOTHING in made.used else [])])
