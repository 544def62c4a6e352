"""`radiosim layout compare` as a report: what each end of a link reads of the other's frames."""

import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from radiosim.layout.compare import Comparison, FieldReading, Outcome, Question
from radiosim.layout.compare.compared import Length, Verdict
from radiosim.report.figures import change
from radiosim.report.figures.byte_map import figures
from radiosim.report.layout_compare_data import (
    WAYS,
    LayoutCompareData,
    Receiver,
    Way,
    WorstReading,
    compare_data,
)
from radiosim.report.layouts import head
from radiosim.report.link_change import link_sections, link_tables
from radiosim.results.document import Column, Origin, Report, Role, Section, Sentence, Table
from radiosim.results.formats import fmt_percent, list_text
from radiosim.safety import MAY_PINCH, STILL
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.layout_change import LayoutChange

CAUTION = (
    "Flash all boards together, or let a version field tell old from new; then try every control "
    f"at both ends of its travel, {STILL}; {MAY_PINCH}."
)
LENGTHS: dict[Length, str] = {
    "own": "each frame its own length, receiver does not check it",
    "fixed": "each radio set to its own frame's length",
    "padded": "both radios set to {} bytes",
}
_CHOSEN = (
    "What is read is the worst of all values; where these are more than 65,536, of each field's "
    "edges and of 65,536 values spread evenly."
)
_ROLES: dict[Verdict, Role | None] = {
    "misread": "bad",
    "asked": "bad",
    "refused": None,
    "rejected": None,
    "compatible": "good",
}
"""The worst first."""
_READS: dict[Verdict, str] = {
    "misread": "misreads",
    "asked": "may misread",
    "refused": "refuses",
    "rejected": "rejects",
    "compatible": "reads",
}
"""What a receiver does with the other's frames."""


def compare_report(
    compared: Comparison,
    layouts: tuple[NamedLayout, NamedLayout],
    length: Length,
    origin: Origin,
    *,
    link: LayoutChange | None = None,
    not_simulated: str = "",
) -> Report:
    """Both directions, for each way to set the length, and what a link makes of the change."""
    old, new = layouts
    receivers: dict[Way, Receiver] = {
        "new_to_old": Receiver(
            layout=compared.old,
            transmitter=compared.new,
            scenario=old.scenario,
            direction=compared.new_to_old,
        ),
        "old_to_new": Receiver(
            layout=compared.new,
            transmitter=compared.old,
            scenario=new.scenario,
            direction=compared.old_to_new,
        ),
    }
    names = dict.fromkeys((old.layout.name, new.layout.name))
    data = compare_data(compared, layouts, length, receivers, link, not_simulated)
    return Report(
        title=f"{list_text(list(names))}: {_what_to_flash(compared, length, receivers, link)}",
        subject=f"Old: {head(old)}. New: {head(new)}",
        done="",
        verdict=_verdict(compared, length, receivers),
        is_well=data.is_compatible,
        warnings=(*_misreadings(length, receivers), *_questions(compared)),
        sections=(
            Section(sentences=tuple(_heads(compared, layouts)), where="terminal"),
            *(
                Section(heading=picture.title, figures=(picture,))
                for picture in figures(old.layout, new.layout)
            ),
            *(_direction(compared, way, receivers[way], length) for way in WAYS),
            *_chosen_values(receivers),
            *link_sections(link, not_simulated, None if link is None else change.figure(link)),
        ),
        tables=(*_tables(data), *link_tables(link)),
        cautions=(CAUTION,),
        data=data,
        origin=origin,
    )


def _what_to_flash(
    compared: Comparison,
    length: Length,
    receivers: dict[Way, Receiver],
    link: LayoutChange | None,
) -> str:
    """Which ends must get the new firmware together, or first: the most urgent of all."""
    transmitters = list_text(link.streams) if link is not None and link.streams else "transmitter"
    verdicts = {way: receivers[way].direction.of(length).verdict for way in WAYS}
    is_read = {way: verdict == "compatible" for way, verdict in verdicts.items()}
    if all(is_read.values()):
        return "compatible: either end may be flashed alone"
    old_reads, new_reads = (_READS[verdicts[way]] for way in ("new_to_old", "old_to_new"))
    if is_read["old_to_new"]:
        return f"flash the receiver before {transmitters}; an old receiver {old_reads} new frames"
    if is_read["new_to_old"]:
        return f"flash {transmitters} before the receiver; a new receiver {new_reads} old frames"
    together = f"flash {transmitters} and receiver together"
    if set(verdicts.values()) == {"asked"}:
        names = list_text(list(dict.fromkeys(question.group for question in compared.questions)))
        return f"{together}, unless the meaning of {names} stayed"
    return f"{together}; an old receiver {old_reads} new frames, a new one {new_reads} old frames"


def _questions(compared: Comparison) -> Iterator[Sentence]:
    """What only who wrote both layouts knows; once for the places of an array."""
    told: dict[tuple[str, str, tuple[str, str]], Question] = {}
    for question in compared.questions:
        before = question.before if question.before != question.name else question.group
        told.setdefault((question.group, before, question.comments), question)
    for question in told.values():
        yield Sentence(text=f"ASKED: {question.text} If so: --same {question.group}", role="bad")


def _verdict(compared: Comparison, length: Length, receivers: dict[Way, Receiver]) -> str:
    said = "; ".join(
        f"{title}: {receivers[way].direction.of(length).verdict}" for way, title in WAYS.items()
    )
    return f"{said} ({_length_text(compared, length)})."


def _length_text(compared: Comparison, length: Length) -> str:
    return LENGTHS[length].format(compared.padded_to_bytes)


def _misreadings(length: Length, receivers: dict[Way, Receiver]) -> Iterator[Sentence]:
    for way, title in WAYS.items():
        outcome = receivers[way].direction.of(length)
        alike = _alike(receivers[way], outcome)
        names = [names for names, reading, _ in alike if reading.verdict == "misread"]
        if names:
            yield Sentence(text=f"{title}: {list_text(names)} MISREAD.", role="bad")


def _heads(
    compared: Comparison, layouts: tuple[NamedLayout, NamedLayout]
) -> Iterator[Sentence | str]:
    for age, named in zip(("old", "new"), layouts, strict=True):
        yield Sentence(lead=age, text=head(named))
    if len({named.header is None for named in layouts}) > 1:
        yield (
            "Fields of the header have the scales that the scenario's keys give to fields of the "
            "same name: whether that is so, only who wrote both knows."
        )
    if compared.versions is not None:
        old_number, new_number = compared.versions
        yield f"Version fields: old {old_number}, new {new_number}."


def verdict_text(outcome: Outcome) -> str:
    """A verdict with what decided it."""
    text: str = outcome.verdict
    if outcome.passes and outcome.verdict == "misread":
        text += f" in {fmt_percent(outcome.passes)} of frames, which pass as the right version"
    return f"{text}: {outcome.why}" if outcome.why else text


def _direction(compared: Comparison, way: Way, receiver: Receiver, length: Length) -> Section:
    lengths = Table(
        key=f"{way}_lengths",
        columns=(
            Column(key="length", title="payload length", is_text=True),
            Column(
                key="verdict",
                title="verdict",
                is_text=True,
                show=verdict_text,
                role=lambda outcome: _ROLES[outcome.verdict],
            ),
        ),
        rows=tuple(
            (_length_text(compared, outcome.length), outcome) for outcome in receiver.outcomes
        ),
        where="screen",
    )
    asked = receiver.direction.of(length)
    return Section(
        heading=f"{WAYS[way]}: {verdict_text(asked)}",
        tables=(lengths, *_field_tables(compared, way, receiver, asked)),
    )


def _field_tables(
    compared: Comparison, way: Way, receiver: Receiver, asked: Outcome
) -> Iterator[Table]:
    """What is read at the length that was asked about; then at others where that differs."""
    shown: list[tuple[FieldReading, ...]] = [()]
    others = [outcome for outcome in receiver.outcomes if outcome.verdict == "misread"]
    for outcome in (asked, *others):
        if outcome.fields in shown:
            continue
        shown.append(outcome.fields)
        length = _length_text(compared, outcome.length)
        yield Table(
            key=f"{way}_{outcome.length}",
            caption=f"What the receiver reads, {length}",
            columns=(
                Column(key="field", title="field", is_text=True),
                Column(
                    key="reads", is_text=True, title="verdict", role=lambda verdict: _ROLES[verdict]
                ),
                Column(key="worst", title="worst reading", is_text=True),
            ),
            rows=tuple(
                (names, reading.verdict, text)
                for names, reading, text in sorted(
                    _alike(receiver, outcome), key=lambda row: list(_ROLES).index(row[1].verdict)
                )
            ),
            where="screen",
            is_folded=outcome is not asked,
        )


def _alike(receiver: Receiver, outcome: Outcome) -> Iterator[tuple[str, FieldReading, str]]:
    """Name, reading and text of each field; neighbours in an array that read alike are one."""
    lines = [(reading, receiver.text(reading)) for reading in outcome.fields]
    for _, run in groupby(lines, key=_likeness):
        (first, text), *others = run
        last = others[-1][0] if others else first
        yield first.name if first is last else f"{first.name} to {last.name}", first, text


def _likeness(line: tuple[FieldReading, str]) -> tuple[str, ...]:
    """The same for neighbours in an array of which the same is to be said."""
    reading, text = line
    array = re.fullmatch(r"(.*)_\d+", reading.name)
    if array is None:
        return reading.name, reading.verdict, text
    return array[1], reading.verdict, text.replace(reading.name, array[1])


def _chosen_values(receivers: dict[Way, Receiver]) -> Iterator[Section]:
    """Whether any misreading was found among chosen values, since all were too many."""
    if any(
        reading.how == "chosen values"
        for receiver in receivers.values()
        for outcome in receiver.outcomes
        for reading in outcome.fields
    ):
        yield Section(sentences=(_CHOSEN,))


def _tables(data: LayoutCompareData) -> Iterator[Table]:
    """For files: verdicts, and what each field reads."""
    found = [
        (way, length, getattr(getattr(data, way), length)) for way in WAYS for length in LENGTHS
    ]
    yield _file_table(
        "verdicts",
        ("direction", "length", "verdict", "why", "passes_version"),
        [
            (way, length, outcome.verdict, outcome.why, outcome.passes_version)
            for way, length, outcome in found
        ],
    )
    worst: tuple[str, ...] = WorstReading.__struct_fields__
    yield _file_table(
        "readings",
        ("direction", "length", "field", "verdict", "how", "share", "says", *worst),
        [
            (
                *(
                    way,
                    length,
                    reading.field,
                    reading.verdict,
                    reading.how,
                    reading.share,
                    reading.says,
                ),
                *(getattr(reading.worst, name, None) for name in worst),
            )
            for way, length, outcome in found
            for reading in outcome.fields
        ],
    )


def _file_table(key: str, names: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> Table:
    columns = tuple(Column(key=name) for name in names)
    return Table(key=key, columns=columns, rows=tuple(rows), where="data")
