"""What a receiver's program did in some starts, worked out into results."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from radiosim.firmware.chip_measured import Measured
from radiosim.firmware.compare import NOT_READ, Compared, Difference, Span
from radiosim.firmware.results import (
    ProgramDrill,
    ProgramEnd,
    ProgramOutput,
    ProgramRead,
    ProgramResults,
    ProgramSpan,
    ProgramTime,
    ProgramVerdict,
    SpanKind,
)
from radiosim.firmware.tried import Tried
from radiosim.scenario import Scenario
from radiosim.scenario.danger import Danger, danger_of
from radiosim.scenario.structs.output_table import Output, Preset
from radiosim.units import NS_PER_MS, NS_PER_S, NS_PER_US, ns_from_ms, ns_from_s

MOST_SPANS = 500
"""Spans that results have, over all starts."""
_AFTER_NS = 10 * NS_PER_S
"""For so long after its end a fault is named beside a span."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What was run, and how."""

    on: str
    sources: tuple[str, ...]
    stamp: str
    warning: str
    warnings: int
    clock_ms: int
    measured: Measured | None = None


def with_drills(found: ProgramResults, drills: tuple[ProgramDrill, ...]) -> ProgramResults:
    """The same with what drills have shown; the verdict is that of all."""
    verdicts = (found.verdict, *(drill.verdict for drill in drills))
    verdict: ProgramVerdict = "HELD"
    for worse in ("NOT JUDGED", "NOT HELD"):
        verdict = worse if worse in verdicts else verdict
    return replace(found, drills=drills, verdict=verdict, ok=verdict == "HELD")


def results_of(scenario: Scenario, ran: Ran, starts: Sequence[Tried]) -> ProgramResults:
    """All starts of one program together."""
    compared = [(one.start, one.difference) for one in starts if one.difference is not None]
    spans = tuple(span for one in starts for span in _spans_of(scenario, ran, one))
    elsewhere = next(
        (
            _read(start, difference)
            for start, difference in compared
            if difference.first_elsewhere is not None
        ),
        None,
    )
    ended = tuple(
        ProgramEnd(start=one.start, at_s=one.ended.at_ns / NS_PER_S, text=one.ended.text)
        for one in starts
        if one.ended is not None
    )
    verdict = _verdict(elsewhere, ended, spans)
    differences = [difference for _, difference in compared]
    return ProgramResults(
        scenario=scenario.name,
        on=ran.on,
        sources=ran.sources,
        stamp=ran.stamp,
        verdict=verdict,
        ok=verdict == "HELD",
        starts=len(starts),
        duration_s=scenario.duration_s,
        clock_from_ms=ran.clock_ms,
        frames=sum(one.frames for one in differences),
        reads_as_predicted=sum(one.reads for one in differences),
        tolerance_ms=max((one.tolerance_ns for one in differences), default=0) / NS_PER_MS,
        read_elsewhere=elsewhere,
        ended=ended,
        outputs=_together([one.outputs for one in differences]),
        failsafe=_together([one.failsafe for one in differences]),
        spans=spans[:MOST_SPANS],
        drills=None,
        notes=tuple(_notes(scenario, ran, starts)),
        measured=tuple(ran.measured.settings) if ran.measured is not None else (),
        times=tuple(_times(ran.measured)) if ran.measured is not None else (),
    )


def _verdict(
    elsewhere: ProgramRead | None, ended: tuple[ProgramEnd, ...], spans: tuple[ProgramSpan, ...]
) -> ProgramVerdict:
    if elsewhere is not None or ended or any(span.is_judged for span in spans):
        return "NOT HELD"
    return "NOT JUDGED" if spans else "HELD"


def _read(start: int, difference: Difference) -> ProgramRead:
    first = difference.first_elsewhere
    assert first is not None

    def seconds(at_ns: int) -> float | None:
        return None if at_ns == NOT_READ else at_ns / NS_PER_S

    return ProgramRead(
        start=start,
        stream=first.stream,
        predicted_s=seconds(first.predicted_ns),
        real_s=seconds(first.real_ns),
    )


def _kinds(scenario: Scenario, difference: Difference) -> Iterator[tuple[Compared, SpanKind]]:
    for one in difference.outputs:
        yield one, "pulse" if scenario.output[one.name].kind == "servo" else "level"
    for one in difference.failsafe:
        yield one, "failsafe"


def _spans_of(scenario: Scenario, ran: Ran, one: Tried) -> Iterator[ProgramSpan]:
    if one.difference is None:
        return
    wraps = one.wraps_ns if ran.on == "host" else ()
    for output, kind in _kinds(scenario, one.difference):
        yield from _spans(scenario, wraps, one.start, one.difference, output, kind)


def _spans(
    scenario: Scenario,
    wraps: tuple[int, ...],
    start: int,
    difference: Difference,
    output: Compared,
    kind: SpanKind,
) -> list[ProgramSpan]:
    """Spans of one output; what comes after a read elsewhere is another link's."""
    first = difference.first_elsewhere
    unit = NS_PER_US if kind == "pulse" else 1
    is_output = kind != "failsafe"
    danger = danger_of(output.name, scenario.output[output.name]) if is_output else Danger.LOOKS
    return [
        ProgramSpan(
            start=start,
            output=f"failsafe of {output.name}" if kind == "failsafe" else output.name,
            at_s=span.from_ns / NS_PER_S,
            for_s=span.length_ns / NS_PER_S,
            fault=fault_at(scenario, span.from_ns),
            predicted=_shown(span.predicted, unit),
            real=_shown(span.real, unit),
            kind=kind,
            is_judged=not _is_near(scenario, wraps, span),
            danger=danger,
            runs_on=is_output and _runs_on(scenario.output[output.name], span, unit),
        )
        for span in output.spans
        if first is None or span.from_ns < first.at_ns
    ]


def _runs_on(output: Output, span: Span, unit: int) -> bool:
    """Whether it is driven where it was predicted to stand still, or to have no pulses."""
    rest: set[float] = set()
    if output.motor is not None and output.motor.idle_us is not None:
        rest.add(output.motor.idle_us)
    if isinstance(output.on_failsafe, Preset) and output.on_failsafe.preset_us is not None:
        rest.add(output.on_failsafe.preset_us)
    if output.kind != "servo":
        rest.add(0.0)

    def is_still(level: float) -> bool:
        return math.isnan(level) or any(abs(level / unit - still) <= 1 for still in rest)

    return is_still(span.predicted) and not is_still(span.real)


def _shown(level: float, unit: int) -> float | None:
    return None if math.isnan(level) else level / unit


def _is_near(scenario: Scenario, wraps: tuple[int, ...], span: Span) -> bool:
    """Whether a span begins where a timer counts, or looks ahead, over the end of the clock."""
    longest_ms = max((timer.timeout_ms for timer in scenario.failsafe.values()), default=0.0)
    near_ns = ns_from_ms(longest_ms) + NS_PER_S // 10
    return any(abs(span.from_ns - wrap) <= near_ns for wrap in wraps)


def fault_at(scenario: Scenario, at_ns: int) -> str:
    """The fault that is there at an instant, or was soon before; empty: none."""
    there = []
    for fault in scenario.fault:
        from_ns = ns_from_s(fault.at_s)
        over_ns = None if fault.for_s is None else from_ns + ns_from_s(fault.for_s)
        if from_ns <= at_ns and (over_ns is None or at_ns <= over_ns + _AFTER_NS):
            is_over = over_ns is not None and at_ns >= over_ns
            there.append((f"{'after ' if is_over else ''}{fault.kind}", from_ns, fault.unit))
    if not there:
        return ""
    # The last that struck, of as many units as it struck at once.
    units = [unit for *struck, unit in there if struck == [*there[-1][:2]]]
    return f"{there[-1][0]} {' and '.join(filter(None, units))}".strip()


def _together(groups: Sequence[tuple[Compared, ...]]) -> tuple[ProgramOutput, ...]:
    names = dict.fromkeys(one.name for group in groups for one in group)
    found = []
    for name in names:
        mine = [one for group in groups for one in group if one.name == name]
        lengths = [span.length_ns for one in mine for span in one.spans]
        found.append(
            ProgramOutput(
                name=name,
                changes=sum(one.changes for one in mine),
                most_changes=max(one.changes for one in mine),
                moves=any(one.moves for one in mine),
                spans=len(lengths),
                longest_s=max(lengths, default=0) / NS_PER_S,
                short_spans=sum(one.short for one in mine),
                longest_short_ms=max(one.longest_short_ns for one in mine) / NS_PER_MS,
            )
        )
    return tuple(found)


_TIMES = {
    "idle_pass": "pass without a frame",
    "read_pass": "pass with one frame",
    "frame_low": "chip select low for a frame",
    "cold_boot": "power-on to first pass",
    "warm_boot": "reset to first pass",
    "bite": "hang to its watchdog's reset",
}


def _times(measured: Measured) -> Iterator[ProgramTime]:
    for key, name in _TIMES.items():
        span = getattr(measured.times, key)
        if span is not None:
            yield ProgramTime(
                name=name,
                count=span.count,
                mean_us=span.mean_us,
                least_us=span.least_us,
                most_us=span.most_us,
            )


def _notes(scenario: Scenario, ran: Ran, starts: Sequence[Tried]) -> list[str]:
    """What the program did besides."""
    notes = list(ran.measured.notes) if ran.measured is not None else []
    notes += [note for one in starts for note in one.notes]
    if ran.warnings:
        more = f" (and {ran.warnings - 1} more)" if ran.warnings > 1 else ""
        notes.append(f"the compiler warns{more}: {ran.warning}")
    printing = next((one for one in starts if one.printed_bytes), None)
    if printing is not None:
        notes.append(
            f"it prints, which no board may have room for: {printing.printed_bytes:,} bytes in "
            f"start {printing.start}, beginning {printing.printed!r}"
        )
    waiting = max(starts, key=lambda one: one.waited_most_ns, default=None)
    if waiting is not None and waiting.waited_most_ns:
        notes.append(
            f"it waits in a pass, {waiting.waited_most_ns / NS_PER_MS:.3g} ms at most (at "
            f"{waiting.waited_most_at_ns / NS_PER_S:.6f} s of start {waiting.start}), and "
            f"{sum(one.swallowed for one in starts):,} passes of the prediction never begin"
        )
    booting = max((one.boot_waited_ns for one in starts), default=0)
    if booting > ns_from_s(scenario.receiver.boot_s):
        notes.append(
            f"rx_boot waits {booting / NS_PER_MS:.3g} ms, longer than receiver.boot_s says"
        )
    return notes
