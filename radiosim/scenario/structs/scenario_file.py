"""The whole of a scenario: as a file says it, and with everything filled in."""

import functools
from typing import Annotated, Any, TypeVar

import msgspec
from msgspec import Meta, field

from radiosim.described import key
from radiosim.edges import DURATION_S, SEED, STARTS
from radiosim.layout import Layout, LayoutDescription, lay_out, plain_layout
from radiosim.radio.profiles import PROFILES, Profile
from radiosim.scenario.structs.air_tables import Air, AirTable, Interferer
from radiosim.scenario.structs.failsafe_and_fault import Failsafe, Fault, Requirement
from radiosim.scenario.structs.output_table import Output, OutputTable
from radiosim.scenario.structs.radio_table import Radio
from radiosim.scenario.structs.receiver_table import Receiver
from radiosim.scenario.structs.shared_keys import MOST_LISTED, MOST_NAMED, Table
from radiosim.scenario.structs.transmitter_table import Transmitter, TransmitterTable

_DurationS = Annotated[float, Meta(ge=DURATION_S.low, le=DURATION_S.high)]
_Starts = Annotated[int, Meta(ge=STARTS.low, le=STARTS.high)]
_Seed = Annotated[int, Meta(ge=SEED.low, le=SEED.high)]
_T = TypeVar("_T")
_Named = Annotated[dict[str, _T], Meta(max_length=MOST_NAMED)]
_Listed = Annotated[tuple[_T, ...], Meta(max_length=MOST_LISTED)]
_OVERRIDABLE = tuple(name for name in Profile.__struct_fields__ if name in Radio.__struct_fields__)


@functools.lru_cache(maxsize=64)
def _profile_of(radio: Radio) -> Profile:
    """Worked out once: every unit of every start asks again."""
    given = {name: getattr(radio, name) for name in _OVERRIDABLE}
    overrides = {name: value for name, value in given.items() if value is not None}
    profile = PROFILES[radio.profile]
    return msgspec.structs.replace(profile, **overrides) if overrides else profile


class _Common(Table, frozen=True, kw_only=True):
    """What is the same before and after completion."""

    title: Annotated[
        str, key("what the scenario is, for people", moves=(), measure="nothing to measure")
    ] = ""
    duration_s: Annotated[
        _DurationS,
        key(
            "how long each start lasts",
            "s",
            moves=("stream.gap_ms", "stream.failsafe.nuisance_per_hour"),
            measure=(
                "choose it: longer than clocks take to drift into each other, which the "
                "report names"
            ),
        ),
    ] = 600.0
    starts: Annotated[
        _Starts,
        key(
            "how many power-ons, each with its own phases and clock errors",
            moves=("stream.gap_ms", "stream.failsafe.nuisance_per_hour"),
            measure="choose it: rare things need many power-ons, each is one",
        ),
    ] = 40
    seed: Annotated[
        _Seed,
        key(
            "where every draw comes from",
            moves=(),
            measure=(
                "choose it: another seed is another sample of the same link; a conclusion "
                "must not hang on it"
            ),
        ),
    ] = 1
    radio: Annotated[Radio, key("what every radio on the link agrees on")]
    layout: Annotated[
        _Named[LayoutDescription], key("how frames are packed, by the layout's name")
    ] = field(default_factory=dict)
    receiver: Annotated[Receiver, key("the unit on the vehicle")] = Receiver()
    failsafe: Annotated[
        _Named[Failsafe], key("the timer of each stream; a stream without one has none")
    ] = field(default_factory=dict)
    interferer: Annotated[_Named[Interferer], key("what else sends, by name")] = field(
        default_factory=dict
    )
    fault: Annotated[_Listed[Fault], key("what goes wrong, and when")] = ()
    requirement: Annotated[_Listed[Requirement], key("what the results must hold")] = ()

    def profile(self) -> Profile:
        """The radio's figures, with those that the scenario overrides."""
        return _profile_of(self.radio)


class ScenarioFile(_Common, frozen=True, kw_only=True):
    """A scenario as its file says it; what may be left out is still left out."""

    transmitter: Annotated[dict[str, TransmitterTable], key("the hand units, by name")] = field(
        default_factory=dict
    )
    output: Annotated[
        _Named[OutputTable], key("what the receiver drives, by name; left out: one a stream")
    ] = field(default_factory=dict)
    air: Annotated[AirTable, key("chance loss; give what is known")] = AirTable()


class Scenario(_Common, frozen=True, kw_only=True):
    """A scenario with everything filled in: the whole input of a run, besides the start's
    number."""

    name: Annotated[str, key("the file's name without its ending")] = ""
    transmitter: Annotated[dict[str, Transmitter], key("the hand units, by name")]
    output: Annotated[dict[str, Output], key("what the receiver drives, by name")]
    air: Annotated[Air, key("chance loss")]
    assumed: Annotated[tuple[str, ...], key("what the file left out, one line each")] = ()
    warnings: Annotated[tuple[str, ...], key("what looks wrong but can be simulated")] = ()
    given: Annotated[tuple[str, ...], key("path of each key that the file gives, in order")] = ()

    def __repr__(self) -> str:
        streams = ", ".join(self.transmitter)
        return (
            f"Scenario({self.name!r}, {self.starts} starts of {self.duration_s:g} s, "
            f"seed={self.seed}, transmitters: {streams})"
        )

    def replace(self, **values: Any) -> "Scenario":
        """The scenario with other values of some keys, as `scenario.replace(starts=6)`.

        Keys are paths, as `scenario.replace(**{"transmitter.head.period_ms": 23})`; values are
        what the file could say there. What was filled in stays: set `air.acknowledge_loss` beside
        `air.loss`. Raises ScenarioError for a key that there is not, and for what makes no sound
        scenario.
        """
        from radiosim.scenario.changed import replaced  # noqa: PLC0415 - judges what this describes

        return replaced(self, values)

    def layouts(self) -> dict[str, Layout]:
        """Every packed layout by name, those that stand for `payload_bytes` included."""
        packed = {name: lay_out(name, described) for name, described in self.layout.items()}
        for unit in self.transmitter.values():
            if unit.payload_bytes is not None:
                packed[unit.layout] = plain_layout(unit.layout, unit.payload_bytes)
        return packed

    def layout_of(self, stream: str) -> Layout:
        """The packed layout of one stream's frames; KeyError for an unknown stream."""
        return self.layouts()[self.transmitter[stream].layout]
