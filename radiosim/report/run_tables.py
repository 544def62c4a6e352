"""Tables of a run: what screens show of each row, and all of it in files."""

from collections.abc import Iterator, Sequence
from typing import Any

from radiosim.assess.aftermath import EARLY, fault_name, fault_text, is_early
from radiosim.assess.answers import Verdict, verdict
from radiosim.assess.in_words import asked_text, measured_text, worst_first, worst_value
from radiosim.measure.summary import OutputFigures, RequirementFigures, RunResults, Summary
from radiosim.results.data import Record, record_of, record_table
from radiosim.results.document import Column, Role, Table
from radiosim.results.formats import duration_text, fmt_exact
from radiosim.scenario import Scenario
from radiosim.scenario.danger import outputs_by_danger
from radiosim.scenario.structs.output_table import Output, Preset

ROLES: dict[Verdict, Role] = {"steady": "good", "gaps": "warn", "cut by fault": "warn"}
"""How a verdict stands out; any other is bad."""
HELD = {True: "ok", False: "FAILED", None: "not judged"}
HELD_ROLES: dict[bool | None, Role] = {True: "good", False: "bad", None: "warn"}
_OUTSIDE_RUN = (
    "assumed",
    "warnings",
    "figures",
    "worst",
    "reaction",
    "requirements",
    "findings",
    "cure",
)


_VERDICT = Column(
    key="verdict", title="verdict", is_text=True, role=lambda word: ROLES.get(word, "bad")
)


def stream_table(summary: Summary, scenario: Scenario | None) -> Table:
    """Update rates, latency and gaps of every stream; with the scenario, a verdict too."""
    is_one = summary.start is not None
    low = (
        Column(key="worst_second_updates", title="worst second", priority=2)
        if is_one
        else Column(key="worst.update_rate_hz", title="worst start", unit="/s", priority=2)
    )
    columns = (
        Column(key="stream", is_text=True),
        Column(key="send_rate_hz", title="sent, boots too", unit="/s", priority=4),
        Column(key="update_rate_hz", title="update rate", unit="/s", priority=1),
        low,
        Column(key="latency_ms.median", title="latency median", show=duration_text, priority=3),
        Column(key="latency_ms.p99", title="latency p99", show=duration_text, priority=1),
        Column(key="gap_ms.p99", title="gap p99", show=duration_text),
        Column(key="gap_ms.max", title="gap longest", show=duration_text),
        *(() if scenario is None else (_VERDICT,)),
    )
    records = [_stream(summary, scenario, name) for name in summary.figures.stream]
    longest = "" if is_one else " Longest: in the worst start."
    return _full_table(
        "streams",
        columns,
        records,
        note="Gap: from one fresh value to the next. Latency: from the sample to its read."
        f"{longest}",
    )


def _stream(summary: Summary, scenario: Scenario | None, name: str) -> Record:
    figures = summary.figures.stream[name]
    return {
        "stream": name,
        "send_rate_hz": figures.sampled / (summary.starts * summary.duration_s),
        "worst.update_rate_hz": worst_value(summary, f"stream.{name}.update_rate_hz", None),
        "verdict": None if scenario is None else verdict(summary, scenario, name),
        **record_of(figures, leave_out=("failsafe",)),
    }


def output_table(summary: Summary, scenario: Scenario) -> Table:
    """Refresh, fresh values, latency and age of everything that is driven."""
    low = Column(key="worst.update_rate_hz", title="worst start", unit="/s", priority=2)
    columns = (
        Column(key="output", is_text=True),
        Column(key="stream", title="stream", is_text=True, priority=4),
        Column(key="pulses", title="refresh", unit="/s", where="screen", priority=3),
        Column(key="update_rate_hz", title="update rate", unit="/s"),
        *(() if summary.start is not None else (low,)),
        Column(key="latency_ms.median", title="latency median", show=duration_text),
        Column(key="latency_ms.p99", title="latency p99", show=duration_text),
        Column(key="age_ms.p99", title="age p99", show=duration_text, priority=3),
        Column(key="worst.age_ms.max", title="oldest value", show=duration_text),
    )
    names = outputs_by_danger(scenario, summary.figures.output)
    records = [_output(summary, scenario, name) for name in names]
    return _full_table(
        "outputs",
        columns,
        records,
        note="Latency: from the sample to its value in effect. Age: of the value in effect.",
    )


def _output(summary: Summary, scenario: Scenario, name: str) -> Record:
    figures, path = summary.figures.output[name], f"output.{name}"
    return {
        "output": name,
        "pulses": _pulses(figures, scenario.output[name]),
        "worst.update_rate_hz": worst_value(summary, f"{path}.update_rate_hz", None),
        "worst.age_ms.max": worst_value(summary, f"{path}.age_ms.max", figures.age_ms.max),
        **record_of(figures),
    }


def _pulses(figures: OutputFigures, output: Output) -> str:
    """How often its level is renewed; an output that waits for its first value does nothing."""
    if output.at_start == "none" and not figures.update_rate_hz:
        return "none"
    return "at once" if figures.refresh_hz is None else fmt_exact(figures.refresh_hz)


def reaction_table(summary: Summary, scenario: Scenario) -> Table:
    """What each output does when its transmitter goes silent, and how soon."""
    has_motor = any(reaction.stopping_ms for reaction in summary.reaction.values())
    has_why = any(reaction.why for reaction in summary.reaction.values())
    columns = (
        Column(key="output", is_text=True),
        Column(key="stream", title="stream", is_text=True, priority=2),
        Column(key="action", title="on failsafe", is_text=True, where="screen"),
        Column(
            key="bound_ms",
            title="in effect within",
            show=duration_text,
            nothing="NO BOUND",
            role=lambda ms: "bad" if ms is None else None,
        ),
        Column(
            key="stopping_ms",
            title="standing still within",
            show=duration_text,
            priority=1,
            where="everywhere" if has_motor else "data",
        ),
        Column(
            key="why",
            title="why no bound",
            is_text=True,
            priority=3,
            where="everywhere" if has_why else "data",
        ),
    )
    return _full_table("reaction", columns, list(_reactions(summary, scenario)))


def _reactions(summary: Summary, scenario: Scenario) -> Iterator[Record]:
    streams = {name: key for key, of in summary.reaction.items() for name in of.bound_ms}
    for output in outputs_by_danger(scenario, streams):
        reaction = summary.reaction[streams[output]]
        yield {
            "output": output,
            "stream": streams[output],
            "action": "none" if reaction.timeout_ms is None else action(scenario, output),
            "bound_ms": reaction.bound_ms[output],
            "stopping_ms": reaction.stopping_ms.get(output),
            "why": reaction.why.get(output),
            "blind_to": "; ".join(reaction.blind_to),
            **{f"terms_ms.{name}": ms for name, ms in reaction.terms_ms.items()},
        }


def action(scenario: Scenario, output: str) -> str:
    """What an output does on failsafe."""
    driven = scenario.output[output]
    match driven.on_failsafe:
        case Preset(preset_us=float(pulse_us)):
            return f"{fmt_exact(pulse_us)} us"
        case Preset(preset=float(value)):
            return fmt_exact(value)
        case "off":
            return "no pulses" if driven.kind == "servo" else "off"
        case _:
            return "holds its value"


def fault_table(summary: Summary, scenario: Scenario) -> Table:
    """What each fault was, how soon failsafe was in effect, how soon values were fresh again."""
    faults = summary.figures.faults
    columns = (
        Column(key="name", title="fault", is_text=True, where="screen"),
        Column(key="text", title="what came of it", is_text=True, where="screen"),
        *(Column(key=key, where="data") for key in ("fault", "kind", "unit")),
    )
    records = [
        {
            "name": fault_name(fault),
            "text": fault_text(summary, scenario, fault),
            "fault": number,
            **record_of(fault),
        }
        for number, fault in enumerate(faults)
    ]
    note = EARLY if any(is_early(summary, fault) for fault in faults) else ""
    return _full_table("faults", columns, records, note=note)


def requirement_table(summary: Summary) -> Table:
    """Every requirement with what was measured, those that do not hold first."""
    columns = (
        Column(key="ok", is_text=True, where="data"),
        Column(
            key="held",
            where="screen",
            is_text=True,
            show=lambda asked: HELD[asked.ok],
            role=lambda asked: HELD_ROLES[asked.ok],
        ),
        Column(key="figure", title="figure", is_text=True),
        Column(key="is", title="is", where="screen", show=measured_text),
        Column(key="asked", title="required", where="screen", is_text=True, show=asked_text),
        *(Column(key=key, where="data") for key in ("at_least", "at_most", "measured")),
        Column(
            key="why",
            title="note",
            is_text=True,
            priority=1,
            where="everywhere" if any(asked.why for asked in summary.requirements) else "data",
        ),
    )
    records = [_required(requirement) for requirement in worst_first(summary.requirements)]
    return _full_table("requirements", columns, records)


def _required(requirement: RequirementFigures) -> Record:
    return {
        **record_of(requirement),
        **dict.fromkeys(("held", "is", "asked"), requirement),
        "why": requirement.why or None,
    }


def file_tables(summary: Summary) -> tuple[Table, ...]:
    """The tables that only files hold; each is always there, also without rows."""
    figures = summary.figures
    run = record_of(summary.results(), leave_out=_OUTSIDE_RUN)
    findings = [record_of(found, leave_out=("set",)) for found in summary.findings or ()]
    effects = [] if summary.cure is None else [record_of(one) for one in summary.cure.effects]
    worst = [{"figure": path, **record_of(worst)} for path, worst in summary.worst.items()]
    notes = [
        {"kind": kind, "text": text}
        for kind, texts in (("assumed", summary.assumed), ("warning", summary.warnings))
        for text in texts
    ]
    return (
        record_table("run", [run]),
        record_table("failsafe", list(_failsafes(summary)), first=("stream", "timeout_ms")),
        record_table("findings", findings, first=("where", "what", "cure")),
        record_table("cure", effects, first=("figure", "before", "after")),
        record_table("worst", worst, first=("figure", "value", "start")),
        record_table("air", [record_of(figures.air)]),
        record_table("receiver", [record_of(figures.receiver, leave_out=("brownouts_with",))]),
        record_table("assumed", notes, first=("kind", "text")),
    )


def _failsafes(results: RunResults) -> Iterator[Record]:
    """One row a stream that has a failsafe."""
    for name, reaction in results.reaction.items():
        failsafe = results.figures.stream[name].failsafe
        if failsafe is not None:
            yield {"stream": name, "timeout_ms": reaction.timeout_ms, **record_of(failsafe)}


def _full_table(
    key: str, columns: tuple[Column, ...], records: Sequence[Record], note: str = ""
) -> Table:
    """A table whose columns are shown, and which has all else of its records in files."""
    shown = {column.key for column in columns}
    more: dict[str, Any] = dict.fromkeys(
        name for record in records for name in record if name not in shown
    )
    every = (*columns, *(Column(key=name, where="data") for name in more))
    return Table(
        key=key,
        columns=every,
        rows=tuple(tuple(record.get(column.key) for column in every) for record in records),
        note=note,
        where="everywhere" if records else "data",
    )
