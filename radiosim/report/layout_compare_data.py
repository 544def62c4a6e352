"""What two layouts make of each other's frames, as data."""

import math
from dataclasses import dataclass
from typing import Literal

from msgspec import Struct

from radiosim.layout import Layout
from radiosim.layout.compare import Comparison, FieldReading, Outcome
from radiosim.layout.compare.compared import Direction, Length, Verdict
from radiosim.report.servo_effects import effect_of, pulses_of
from radiosim.scenario import Scenario
from radiosim.scenario.named_layout import NamedLayout
from radiosim.study.layout_change import LayoutChange

Way = Literal["new_to_old", "old_to_new"]
WAYS: dict[Way, str] = {
    "new_to_old": "New transmitter, old receiver",
    "old_to_new": "Old transmitter, new receiver",
}


class ComparedLayout(Struct, frozen=True, kw_only=True):
    """One of the two layouts."""

    layout: str
    """As it was asked for."""
    name: str
    abi: str | None
    size_bytes: int


class WorstReading(Struct, frozen=True, kw_only=True):
    """The value of a field that comes out most wrongly."""

    sent: float | None
    """None: the transmitter has no such field."""
    read: float | None
    """None: no number."""
    effect: str


class ReadingData(Struct, frozen=True, kw_only=True):
    """What a receiver reads in one of its fields."""

    field: str
    verdict: str
    how: str
    """Which values were tried."""
    share: float | None
    """Of the values that are misread."""
    says: str
    worst: WorstReading | None


class OutcomeData(Struct, frozen=True, kw_only=True):
    """What becomes of frames, for one way to set the payload's length."""

    verdict: Verdict
    why: str
    passes_version: float | None
    """Share of frames that have the expected version by chance; None: nothing checks it."""
    fields: tuple[ReadingData, ...]


class DirectionData(Struct, frozen=True, kw_only=True):
    """One end sends, the other receives; by how the payload's length is set."""

    own: OutcomeData
    fixed: OutcomeData
    padded: OutcomeData


class QuestionData(Struct, frozen=True, kw_only=True):
    """A field whose meaning may have changed, as no layout can tell."""

    name: str
    before: str
    """Its name before; the same if only its comment changed."""
    text: str


class LayoutCompareData(Struct, frozen=True, kw_only=True):
    """Two layouts, both ways."""

    old: ComparedLayout
    new: ComparedLayout
    payload_length: Length
    """Which way to set it was asked about."""
    is_compatible: bool
    """Whether each end then surely reads all that the other sends."""
    padded_to_bytes: int
    versions: tuple[int, int] | None
    """Numbers in the version fields of old and new; None: neither has one."""
    questions: tuple[QuestionData, ...]
    """What only who wrote both layouts knows."""
    new_to_old: DirectionData
    old_to_new: DirectionData
    link: LayoutChange | None
    """A link simulated with both; None: none was asked for, or it cannot be."""
    not_simulated: str
    """Why the link cannot be simulated with the new layout; empty: it can, or none was asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Receiver:
    """The receiving end of a direction, and what becomes of the other's frames there."""

    layout: Layout
    transmitter: Layout
    scenario: Scenario | None
    direction: Direction

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """For each way to set the length."""
        return (self.direction.own, self.direction.fixed, self.direction.padded)

    def effects(self, reading: FieldReading) -> tuple[str, ...]:
        """What the worst misreading of a field comes to, in words and in pulses."""
        if reading.worst is None:
            return ()
        field = self.layout.fields[self.layout.index_of(reading.name)]
        pulses = pulses_of(self.layout, field, reading.worst, self.scenario)
        sent = next((one for one in self.transmitter.fields if one.name == reading.name), None)
        return (effect_of(field, sent, reading.worst), *pulses)

    def text(self, reading: FieldReading) -> str:
        """Where the value comes from, and what the worst comes to."""
        return "; ".join(part for part in (reading.says, *self.effects(reading)) if part)


def compare_data(
    compared: Comparison,
    layouts: tuple[NamedLayout, NamedLayout],
    length: Length,
    receivers: dict[Way, Receiver],
    link: LayoutChange | None,
    not_simulated: str,
) -> LayoutCompareData:
    """Both directions, each for every way to set the length, and the link."""
    old, new = (
        ComparedLayout(
            layout=named.label,
            name=named.layout.name,
            abi=named.abi.name if named.abi else None,
            size_bytes=named.layout.size_bytes,
        )
        for named in layouts
    )
    return LayoutCompareData(
        old=old,
        new=new,
        payload_length=length,
        is_compatible=compared.is_compatible(length),
        padded_to_bytes=compared.padded_to_bytes,
        versions=compared.versions,
        questions=tuple(
            QuestionData(name=question.name, before=question.before, text=question.text)
            for question in compared.questions
        ),
        new_to_old=_direction_data(receivers["new_to_old"]),
        old_to_new=_direction_data(receivers["old_to_new"]),
        link=link,
        not_simulated=not_simulated,
    )


def _direction_data(receiver: Receiver) -> DirectionData:
    own, fixed, padded = (
        OutcomeData(
            verdict=outcome.verdict,
            why=outcome.why,
            passes_version=outcome.passes,
            fields=tuple(_reading(receiver, reading) for reading in outcome.fields),
        )
        for outcome in receiver.outcomes
    )
    return DirectionData(own=own, fixed=fixed, padded=padded)


def _reading(receiver: Receiver, reading: FieldReading) -> ReadingData:
    worst = reading.worst
    return ReadingData(
        field=reading.name,
        verdict=reading.verdict,
        how=reading.how,
        share=reading.share,
        says=reading.says,
        worst=None
        if worst is None
        else WorstReading(
            sent=worst.sent,
            read=worst.read if math.isfinite(worst.read) else None,
            effect="; ".join(receiver.effects(reading)),
        ),
    )
