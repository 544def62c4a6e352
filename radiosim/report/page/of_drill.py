"""The page of a failsafe drill: what stops in time, what does not, and what a timeout trades."""

from collections.abc import Iterator
from itertools import groupby

from radiosim.counted import counted
from radiosim.report.drill.terminal import CURES, FIRST, cure_texts, hazards, worst_text
from radiosim.report.drill.trade import room_texts, shown, trade_note
from radiosim.report.drill.worst_output import latest, past_bounds, stops_of, worst_output
from radiosim.report.figures import stops, trade
from radiosim.report.page.parts import Page, PageTable, Section
from radiosim.report.terminal.requirements import row_of
from radiosim.report.terminal.words import digits, limit, listed, share
from radiosim.study.drill.results import Drilled, StreamBound

NO_BREAK = "\N{NO-BREAK SPACE}"


def page_of_drill(
    drilled: Drilled,
    *,
    source: str,
    scenario_text: str,
    command: str,
    speed_m_s: float | None = None,
) -> Page:
    """The whole page."""
    kinds = len({(drill.fault, drill.unit) for drill in drilled.drills})
    return Page(
        title=drilled.title or drilled.scenario or "A scenario without a title",
        what=f"Failsafe drills of a simulated radio control link: {counted(kinds, 'fault')}, "
        f"{counted(drilled.repeats, 'time')} each",
        verdict=_verdict(drilled),
        is_well=None if drilled.ok and drilled.held else drilled.ok,
        cautions=(*hazards(drilled), FIRST),
        sections=(
            *_cures(drilled),
            _stops(drilled),
            Section(
                heading="The worst stop of each stream",
                prose=tuple(
                    f"{stream}: {worst_text(worst, speed_m_s)}."
                    for stream, worst in drilled.worst.items()
                ),
            ),
            Section(
                heading="What the longest stop is made of, when a transmitter falls silent",
                prose=tuple(_no_bounds(drilled)),
                tables=tuple(_bounds(drilled)),
            ),
            *_trades(drilled),
            *_requirements(drilled),
        ),
        scenario_name=source,
        scenario_text=scenario_text,
        command=command,
        seed=drilled.seed,
        version=drilled.version,
    )


def _verdict(drilled: Drilled) -> str:
    held = drilled.held
    if drilled.ok and held:
        do = "do" if len(held) > 1 else "does"
        return f"PASSED, but {listed(held)} {do} not stop at every fault, as the scenario says."
    if drilled.ok:
        return "PASSED: every output stops within its bound at every fault that was drilled."
    failed = tuple(dict.fromkeys(f"{drill.fault} {drill.unit}" for drill in drilled.failed))
    if failed:
        return f"FAILED: not everything stops at {listed(failed)}."
    if drilled.unmet:
        streams = tuple(dict.fromkeys(unmet.stream for unmet in drilled.unmet))
        do = "do" if len(streams) > 1 else "does"
        return f"FAILED: {listed(streams)} {do} not keep what was asked."
    return "FAILED: a requirement does not hold, or not every drill could be tried."


def _cures(drilled: Drilled) -> Iterator[Section]:
    if drilled.cures:
        yield Section(heading=CURES, prose=tuple(cure_texts(drilled)))


def _stops(drilled: Drilled) -> Section:
    figure = stops.draw(stops.stops_data(drilled))
    rows = []
    for (fault, unit), found in groupby(drilled.drills, key=lambda d: (d.fault, d.unit)):
        group = tuple(found)
        drill = worst_output(group)
        rows.append(
            (
                f"{fault} {unit}".replace(" ", NO_BREAK),
                drill.verdict.upper() if drill.verdict in ("failed", "untried") else drill.verdict,
                digits(stops_of(drill).max),
                "none" if drill.bound_ms is None else digits(drill.bound_ms),
                digits(stops_of(drill).median),
                digits(None if drill.still_driven else latest(it.stopping_ms for it in group)),
                digits(latest(it.recovered_ms for it in group)),
                drill.output,
            )
        )
    table = PageTable(
        caption="Drills: ms from the fault until failsafe is in effect",
        columns=("fault", "", "worst", "bound", "median", "still", "back", "worst output"),
        rows=tuple(rows),
        words=(1, 7),
        note="Bound: at most, from the last frame that counted. Still: until all servos and motors "
        "of its streams stand. Back: from the fault's end until values are fresh again. Both at "
        "worst, of all outputs. Held: the scenario wants the output to hold its last value. Short: "
        f"the fault was over before anything had to stop. {past_bounds(drilled.drills)}".rstrip(),
    )
    return Section(heading=figure.title, figure=figure, tables=(table,))


def _no_bounds(drilled: Drilled) -> Iterator[str]:
    for stream, bound in drilled.bound.items():
        if bound.total_ms is None:
            where = f", {bound.output}" if bound.output else ""
            yield f"{stream}{where}: NO BOUND: {bound.why}."


def _bounds(drilled: Drilled) -> Iterator[PageTable]:
    for stream, bound in drilled.bound.items():
        if bound.total_ms is not None:
            yield PageTable(
                caption=f"{stream}, for {bound.output}",
                columns=("part", "ms", ""),
                rows=tuple(_terms(bound)),
                words=(2,),
            )


def _terms(bound: StreamBound) -> Iterator[tuple[str, str, str]]:
    longest = max(bound.terms, key=lambda term: term.ms)
    for term in bound.terms:
        yield term.name, digits(term.ms), "shorten this first" if term is longest else ""
    yield "in all", digits(bound.total_ms), ""


def _trades(drilled: Drilled) -> Iterator[Section]:
    for number, (stream, curve) in enumerate(drilled.trade.items()):
        figure = trade.draw(trade.trade_data(drilled, stream), number)
        now_ms = drilled.timeout_ms[stream]
        rows = []
        for point in shown(curve, now_ms):
            interval, reaction_ms = point.nuisance_per_hour_ci95, point.worst_reaction_ms
            sure = "-" if interval is None else f"{digits(interval[0])} to {digits(interval[1])}"
            rows.append(
                (
                    f"{limit(point.timeout_ms)}{' (now)' if point.timeout_ms == now_ms else ''}",
                    digits(point.nuisance_per_hour),
                    sure.replace(" ", NO_BREAK),
                    f"{'DEAD: ' if point.is_dead else ''}{share(point.alive_share)}",
                    "none" if reaction_ms is None else digits(reaction_ms),
                )
            )
        table = PageTable(
            caption=f"Timeouts of {stream}",
            columns=("timeout, ms", "trips an hour", "95 % sure", "alive", "stop within, ms"),
            rows=tuple(rows),
            note=trade_note(drilled),
            is_folded=True,
        )
        prose = tuple(f"{text[0].upper()}{text[1:]}." for text in room_texts(drilled, stream))
        yield Section(heading=figure.title, prose=prose, figure=figure, tables=(table,))


def _requirements(drilled: Drilled) -> Iterator[Section]:
    if drilled.requirements:
        said = {True: "holds", False: "FAILED", None: "not judged"}
        yield Section(
            heading="Requirements on stopping times",
            prose=tuple(f"{said[it.ok]}: {row_of(it)}." for it in drilled.requirements),
        )
