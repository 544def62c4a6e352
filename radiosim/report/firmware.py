"""`radiosim firmware` as a report: a receiver's own program beside the prediction."""

from collections.abc import Iterator, Sequence

from radiosim.counted import counted
from radiosim.firmware.pin_pulses import WIDTH_NS
from radiosim.firmware.results import (
    ProgramDrill,
    ProgramRead,
    ProgramResults,
    ProgramSpan,
    weight_of,
)
from radiosim.results.document import Column, Origin, Report, Role, Section, Sentence, Table
from radiosim.results.formats import duration_text, list_text
from radiosim.scenario import Scenario
from radiosim.units import NS_PER_US

CANNOT_SEE = {
    "host": (
        "On this machine an int has 32 bits: sums that are too large for a board's are not seen, "
        "nor what happens where a count of its clock ends.",
        "The radio's set-up, the time that a pass really takes, and races with interrupts are not "
        "seen: what runs is the program, on a radio that always obeys.",
    ),
    "core": (
        "The core runs the program's own instructions, and no peripheral: the radio's set-up, the "
        "time that a pass really takes, and races with interrupts are not seen.",
    ),
    "chip": (
        "Only pins that were named are looked at, and the chip is emulated: nothing of its supply, "
        "of noise on wires, or of what else is on the board is seen.",
        "Frames are those that the predicted receiver would hear; one that the prediction misses "
        "while it boots never comes.",
    ),
}
"""What a rung cannot see, beside each verdict that holds."""
CAUTION = "A program that does what was predicted can still do harm if the prediction is wrong."
NOT_SAFE = "That is as predicted, and not safe: some output need not stop at"
_MOST_ROWS = 12


def firmware_report(found: ProgramResults, scenario: Scenario, origin: Origin) -> Report:
    """The verdict, and every time that the program and the prediction part."""
    duration = duration_text(1000 * found.starts * found.duration_s)
    return Report(
        title=scenario.title or found.scenario or "A scenario without a title",
        subject="A receiver's own program on a simulated radio control link",
        done=(
            f"{list_text(list(found.sources))} on {found.on}{_settings(found)}: "
            f"{counted(found.starts, 'start')}, {duration}"
        ),
        verdict=_verdict(found),
        is_well=found.ok,
        warnings=tuple(_warnings(found)),
        sections=(
            *_measured(found),
            Section(heading="Reads", sentences=tuple(_reads(found))),
            *_spans(found),
            Section(heading="Outputs", sentences=(_tolerance(found),), tables=(_outputs(found),)),
            *_drills(found),
            *_unseen(found, scenario),
        ),
        cautions=(CAUTION,),
        data=found,
        origin=origin,
    )


def _settings(found: ProgramResults) -> str:
    return f", settings {found.stamp}" if found.stamp else ""


def _verdict(found: ProgramResults) -> str:
    if found.verdict == "HELD":
        held = "HELD: reads and outputs are those that were predicted"
        unsafe = [f"{drill.fault} {drill.unit}" for drill in found.drills or () if drill.unstopped]
        return f"{held}. {NOT_SAFE} {list_text(unsafe)}." if unsafe else f"{held}."
    if found.verdict == "NOT JUDGED":
        return (
            "NOT JUDGED: it differs only where a count of its clock ends, and there this machine's "
            "widths decide, not the board's."
        )
    return f"NOT HELD: {_first(found)}."


def _first(found: ProgramResults) -> str:
    """What tells most, in words."""
    if found.ended:
        first = found.ended[0]
        return f"it {first.text} of start {first.start}"
    if found.worst_span is not None and found.worst_span.is_judged:
        return span_text(found.worst_span)
    if found.read_elsewhere is not None:
        return read_text(found.read_elsewhere)
    drill = next(drill for drill in found.drills or () if drill.verdict == "NOT HELD")
    return f"drill {drill.fault} {drill.unit}: {drill_text(drill)}"


def drill_text(drill: ProgramDrill) -> str:
    """What tells most of a drill that did not hold, in words; empty if it held."""
    if drill.ended is not None:
        return f"it {drill.ended.text} of start {drill.ended.start}"
    if drill.span is not None:
        return span_text(drill.span)
    return "" if drill.read_elsewhere is None else read_text(drill.read_elsewhere)


def read_text(read: ProgramRead) -> str:
    """The first read that was not where it was predicted, in words."""
    if read.real_s is None:
        how = f"predicted at {read.predicted_s:.6f} s, never read"
    elif read.predicted_s is None:
        how = f"read at {read.real_s:.6f} s, never predicted"
    else:
        how = f"predicted at {read.predicted_s:.6f} s, read at {read.real_s:.6f} s"
    return f"a frame of {read.stream} is read elsewhere: {how} of start {read.start}"


def span_text(span: ProgramSpan) -> str:
    """A span in words."""
    fault = f" ({span.fault})" if span.fault else ""
    return (
        f"{span.output}: {span.at_s:.3f} s of start {span.start}{fault} for "
        f"{duration_text(1000 * span.for_s)}: predicted {_level(span, span.predicted)}, real "
        f"{_level(span, span.real)}"
    )


def _level(span: ProgramSpan, value: float | None) -> str:
    if value is None:
        return "none"
    if span.kind == "failsafe":
        return ("off", "on", "down")[int(value)]
    return f"{value:.10g} us" if span.kind == "pulse" else f"{value:.10g}"


def _warnings(found: ProgramResults) -> Iterator[Sentence]:
    for end in found.ended[1:4]:
        yield Sentence(text=f"It {end.text} of start {end.start}.", role="bad")
    for note in found.notes:
        yield Sentence(text=f"{note[0].upper()}{note[1:]}.", role="warn")
    if found.on == "chip" and not found.ok and not found.measured:
        yield Sentence(
            text="The prediction has the times of the scenario, such as receiver.boot_s; --measure "
            "takes those of the firmware.",
            role="warn",
        )


_WHEN_READ = {
    "host": "at the predicted pass",
    "core": "at the predicted pass",
    "chip": "within a pass and a step of its clock of the prediction",
}


def _measured(found: ProgramResults) -> Iterator[Section]:
    """What was measured on the chip, and as which keys of the scenario."""
    if not found.times:
        return
    yield Section(
        heading="Measured",
        sentences=(
            Sentence(text="The prediction was made with these:"),
            *(Sentence(text=f"--set {line}") for line in found.measured),
        ),
        tables=(
            Table(
                key="times",
                columns=(
                    Column(key="name", title="by its own clock", is_text=True),
                    Column(key="count", title="times", priority=1),
                    Column(key="mean_us", title="mean", unit="us", show=_us),
                    Column(key="least_us", title="least", unit="us", show=_us),
                    Column(key="most_us", title="most", unit="us", show=_us),
                ),
                rows=tuple(
                    (one.name, one.count, one.mean_us, one.least_us, one.most_us)
                    for one in found.times
                ),
            ),
        ),
    )


def _us(value: float) -> str:
    return f"{value:,.1f}"


def _reads(found: ProgramResults) -> Iterator[Sentence]:
    if not found.frames and found.ended:
        yield Sentence(text="Not compared: no start came to its end.")
        return
    yield Sentence(
        text=f"{found.reads_as_predicted:,} of {found.frames:,} {_WHEN_READ[found.on]}.",
        role=None if found.read_elsewhere is None else "bad",
    )
    if found.read_elsewhere is not None:
        yield Sentence(
            text=(
                f"The first that differs: {read_text(found.read_elsewhere)}. From there on the "
                "link would be another one: what follows in that start is not compared."
            )
        )


def _spans(found: ProgramResults) -> Iterator[Section]:
    if not found.spans:
        return
    rows = sorted(found.spans, key=weight_of, reverse=True)
    more = len(rows) - _MOST_ROWS
    yield Section(
        heading="Where it differs",
        sentences=(
            *(
                (Sentence(text=f"The {_MOST_ROWS} longest; {more:,} more are in the JSON."),)
                if more > 0
                else ()
            ),
        ),
        tables=(
            Table(
                key="spans",
                columns=(
                    Column(key="output", title="output", is_text=True, role=_bad),
                    Column(key="start", title="start", priority=2),
                    Column(key="at_s", title="at", unit="s", show=lambda at: f"{at:.3f}"),
                    Column(key="for_s", title="for", show=lambda s: duration_text(1000 * s)),
                    Column(key="fault", title="fault", is_text=True, nothing="", priority=1),
                    Column(key="predicted", title="predicted", is_text=True),
                    Column(key="real", title="real", is_text=True),
                    Column(key="is_judged", where="data"),
                ),
                rows=tuple(
                    (
                        span.output,
                        span.start,
                        span.at_s,
                        span.for_s,
                        span.fault,
                        _level(span, span.predicted),
                        _level(span, span.real),
                        span.is_judged,
                    )
                    for span in rows[:_MOST_ROWS]
                ),
            ),
        ),
    )


def _bad(_: object) -> Role:
    return "bad"


def _tolerance(found: ProgramResults) -> Sentence:
    if not found.tolerance_ms:
        return Sentence(text="Not compared: no start came to its end.")
    of_pins = ", and the time from one pulse to the next" if found.on == "chip" else ""
    return Sentence(
        text=(
            f"Differences of {duration_text(found.tolerance_ms)} or less are not counted: one step "
            f"of the program's clock and its longest pass{of_pins}; pulses may be "
            f"{WIDTH_NS // NS_PER_US if of_pins else 1} us off."
        )
    )


def _outputs(found: ProgramResults) -> Table:
    said = [(one, f"failsafe of {one.name}") for one in found.failsafe]
    rows = [(one, one.name) for one in found.outputs] + said
    return Table(
        key="outputs",
        columns=(
            Column(key="output", title="output", is_text=True),
            Column(key="changes", title="changes predicted"),
            Column(key="spans", title="longer", role=lambda n: "bad" if n else None),
            Column(key="longest_s", title="longest", show=lambda s: duration_text(1000 * s)),
            Column(key="short_spans", title="shorter", priority=1),
            Column(key="longest_short_ms", title="longest of them", show=duration_text, priority=1),
        ),
        rows=tuple(
            (
                name,
                one.changes,
                one.spans,
                one.longest_s if one.spans else None,
                one.short_spans,
                one.longest_short_ms if one.short_spans else None,
            )
            for one, name in rows
        ),
    )


def _drills(found: ProgramResults) -> Iterator[Section]:
    if found.drills is None:
        return
    yield Section(
        heading="Drills",
        sentences=tuple(
            Sentence(text=f"{drill.fault} {drill.unit}: {drill_text(drill)}.", role="bad")
            for drill in found.drills
            if drill.verdict != "HELD"
        )
        + tuple(_unstopped(found.drills)),
        tables=(
            Table(
                key="drills",
                columns=(
                    Column(key="fault", title="fault", is_text=True),
                    Column(key="unit", title="unit", is_text=True),
                    Column(key="faults", title="faults"),
                    Column(key="frames", title="frames", priority=1),
                    Column(key="verdict", title="verdict", is_text=True, role=_of_verdict),
                ),
                rows=tuple(
                    (drill.fault, drill.unit, drill.faults, drill.frames, drill.verdict)
                    for drill in found.drills
                ),
            ),
        ),
    )


def _unstopped(drills: Sequence[ProgramDrill]) -> Iterator[Sentence]:
    """Which outputs nothing bounds, at which faults, a line for each cause."""
    for why in dict.fromkeys(why for drill in drills for why in drill.unstopped.values()):
        mine = [drill for drill in drills if why in drill.unstopped.values()]
        names = [name for drill in mine for name, its in drill.unstopped.items() if its == why]
        faults = [f"{drill.fault} {drill.unit}" for drill in mine]
        yield Sentence(
            text=f"NO BOUND, held or not: {list_text(list(dict.fromkeys(names)))} at "
            f"{list_text(faults)}: {why}.",
            role="warn",
        )


def _of_verdict(verdict: object) -> Role | None:
    return {"HELD": None, "NOT JUDGED": "warn"}.get(str(verdict), "bad")


def _unseen(found: ProgramResults, scenario: Scenario) -> Iterator[Section]:
    untried = tuple(Sentence(text=text, role="warn") for text in _untried(found, scenario))
    yield Section(heading="What this cannot see", sentences=(*untried, *CANNOT_SEE[found.on]))


def _untried(found: ProgramResults, scenario: Scenario) -> Iterator[str]:
    """What the scenario never asked of the program."""
    still = [one.name for one in found.outputs if not one.moves]
    if still:
        streams = list_text(list(dict.fromkeys(scenario.output[name].stream for name in still)))
        stay = "stays where it is" if len(still) == 1 else "stay where they are"
        yield (
            f"{list_text(still)} {stay} put: how values become pulses is not shown. Give {streams} "
            "signals that move (radiosim glossary signals)."
        )
    more = "Give it a fault" if found.on == "chip" else "Add --drill"
    if not scenario.fault and found.drills is None:
        yield f"The scenario has no fault: how the program takes one is not shown. {more}."
    silent = [
        name for name in scenario.failsafe if name not in {one.name for one in found.failsafe}
    ]
    if silent and found.on != "chip":
        yield (
            f"The program never tells of failsafe of {list_text(silent)} (rx_failsafe): only "
            "outputs show whether it comes."
        )
    # On at the boot, and off with the first frame: what comes later is a third.
    untripped = [one.name for one in found.failsafe if one.most_changes <= 2]
    if untripped and scenario.fault and found.drills is None:
        yield (
            f"Failsafe of {list_text(untripped)} never came for want of frames: its timeout is not "
            f"shown. {more.replace('a fault', 'a fault for it')}."
        )
