"""A trip that a fault explains is never a nuisance trip, and no other trip is excused: every kind
of fault, on every unit that can have it, in scenarios drawn at random.

A fault reaches a timer if it strikes a transmitter that feeds it, the receiver or the air. It
explains a trip if it was under way at some instant from the last feed to the trip.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from radiosim.engine.plan import make_plan, struck_unit
from radiosim.engine.plan import struck as struck_by
from radiosim.engine.simulate import simulate
from radiosim.engine.timeline import FOREVER_NS
from radiosim.measure import summarise
from radiosim.registers.fault_kind import AIR, RECEIVER, TRANSMITTER, VALUES, UnitKind
from radiosim.registers.fault_register import FAULT_KINDS, ended_by, fault_kind
from radiosim.scenario import Scenario, parse
from radiosim.scenario.structs.failsafe_and_fault import Fault
from radiosim.units import ns_from_s
from radiosim.vehicle.output_fold import Entry
from radiosim.vehicle.vehicle import run_vehicle
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

EVERY = [(row.name, unit) for row in FAULT_KINDS.values() for unit in row.units]
"""Each kind of fault at each sort of unit that can have it."""


def unit_of(scenario: Scenario, sort: UnitKind) -> str:
    """The first of the sort."""
    return next(iter(scenario.transmitter)) if sort == TRANSMITTER else sort


def entries_of(scenario: Scenario) -> dict[str, list[Entry]]:
    """Every trip of the first start, by stream."""
    streams = run_vehicle(simulate(scenario)).streams
    return {
        name: list(record.entries)
        for name, record in zip(scenario.transmitter, streams, strict=True)
        if name in scenario.failsafe
    }


def over_at_ns(scenario: Scenario) -> int:
    """When the only fault of a scenario lets go of its unit in start 0."""
    plan = make_plan(scenario, 0)
    unit = struck_unit(scenario.fault[0], plan.streams[0])
    return struck_by(scenario, plan, 0, unit).over_ns


def reaches(scenario: Scenario, fault: Fault, stream: str) -> bool:
    """Whether a fault strikes something that the timer of a stream needs to be fed."""
    kind, timer = fault_kind(fault.kind), scenario.failsafe[stream]
    if kind.impairs == (VALUES,):
        return fault.unit == stream and bool(timer.watch_field)
    if fault.unit in (RECEIVER, AIR):
        return True
    return fault.unit == stream or timer.fed_by == "any"


def is_well_before(scenario: Scenario, fault: Fault) -> bool:
    """Whether the unit is up when the fault comes, so that it takes something away."""
    unit = scenario.transmitter.get(fault.unit)
    if unit is None:
        return fault.at_s > scenario.receiver.boot_s + 0.001
    return fault.at_s > unit.start_s + unit.boot_s + 0.001


fault_at_s = st.integers(20_000, 700_000).map(lambda us: us / 1_000_000)
for_s = st.one_of(st.none(), st.integers(1_000, 200_000).map(lambda us: us / 1_000_000))


@pytest.mark.slow
@given(struck_by=st.sampled_from(EVERY), given=scenarios, at_s=fault_at_s, lasts_s=for_s)
@examples(25)
def test_a_fault_changes_no_trip_before_it_and_explains_those_in_which_it_falls(
    struck_by: tuple[str, UnitKind], given: Scenario, at_s: float, lasts_s: float | None
) -> None:
    kind, sort = struck_by
    plain = replace(given, fault=())
    fault = Fault(
        kind=kind,
        unit=unit_of(given, sort),
        at_s=at_s,
        for_s=lasts_s if fault_kind(kind).is_lasting else None,
    )
    struck = replace(plain, fault=(fault,))
    at_ns, over_ns = ns_from_s(at_s), over_at_ns(struck)
    before, after = entries_of(plain), entries_of(struck)

    for stream in plain.failsafe:
        assert [e for e in after[stream] if e.at_ns < at_ns] == [
            e for e in before[stream] if e.at_ns < at_ns
        ]
        if not (fault_kind(kind).impairs and reaches(struck, fault, stream)):
            continue
        if is_well_before(struck, fault):
            until_ns = at_ns if over_ns == FOREVER_NS else over_ns
            in_it = [e for e in after[stream] if e.fed_ns <= until_ns and e.at_ns >= at_ns]
            assert all(e.is_true for e in in_it)


LINK = """
duration_s = 6
seed = {seed}
radio.profile = "gfsk-1M"
air.loss = 0
[layout.counted]
fields = [{{ name = "count", type = "u8" }}, {{ name = "pull", type = "u8" }}]
[transmitter.drive]
layout = "counted"
period_ms = 20
offset_ms = 0
clock_ppm = 0
boot_s = {boot_s}
watchdog_ms = {watchdog_ms}
recheck_ms = {recheck_ms}
signals.count = {{ kind = "counter" }}
[transmitter.head]
period_ms = 20
offset_ms = 10
clock_ppm = 0
payload_bytes = 4
retry_delay_us = 1750
boot_s = {boot_s}
[failsafe.drive]
timeout_ms = 120
watch_field = "count"
fed_by = "{fed_by}"
[failsafe.head]
timeout_ms = 120
fed_by = "{fed_by}"
[receiver]
read = "all"
clock_ppm = 0
boot_s = {boot_s}
watchdog_ms = {watchdog_ms}
recheck_ms = {recheck_ms}
"""
"""Two transmitters whose retries clear a collision whatever their phases."""
links = st.fixed_dictionaries(
    {
        "seed": st.integers(0, 9),
        "boot_s": st.sampled_from([0, 0.05, 0.4]),
        "watchdog_ms": st.sampled_from([0, 30, 500]),
        "recheck_ms": st.sampled_from([0, 50, 700]),
        "fed_by": st.sampled_from(["own", "any"]),
    }
)


@pytest.mark.parametrize(("kind", "sort"), EVERY)
@given(link=links, at_s=st.floats(1.0, 3.0), lasts_s=st.one_of(st.none(), st.floats(0.01, 1.5)))
@examples(75)
def test_a_fault_of_a_sound_link_makes_no_nuisance_trip(
    kind: str, sort: UnitKind, link: dict[str, object], at_s: float, lasts_s: float | None
) -> None:
    plain = parse(LINK.format(**link))
    fault = Fault(
        kind=kind,
        unit=unit_of(plain, sort),
        at_s=round(at_s, 6),
        for_s=round(lasts_s, 6) if lasts_s and fault_kind(kind).is_lasting else None,
    )
    quiet, struck = (
        summarise(simulate(replace(plain, fault=faults))).figures for faults in ((), (fault,))
    )

    for stream in plain.transmitter:
        was, now = quiet.stream[stream].failsafe, struck.stream[stream].failsafe
        assert was is not None
        assert now is not None
        assert now.nuisance_trips == was.nuisance_trips == was.trips_on_fault == 0
        if not reaches(plain, fault, stream):
            assert now.trips_on_fault == 0


@pytest.mark.parametrize(("kind", "sort"), EVERY)
@pytest.mark.parametrize("fed_by", ["own", "any"])
def test_no_fault_excuses_a_trip_before_it_or_after_its_end(
    kind: str, sort: UnitKind, fed_by: str
) -> None:
    """A timer so short that it trips after every frame: what the fault does not touch remains."""
    link = {"seed": 1, "boot_s": 0, "watchdog_ms": 100, "recheck_ms": 100, "fed_by": fed_by}
    plain = parse(LINK.format(**link), overrides=["failsafe.drive.timeout_ms=8"])
    lasts_s = 0.5 if fault_kind(kind).is_lasting else None
    fault = Fault(kind=kind, unit=unit_of(plain, sort), at_s=2.0, for_s=lasts_s)
    struck = replace(plain, fault=(fault,))
    before, after = entries_of(plain)["drive"], entries_of(struck)["drive"]

    assert len(before) > 200
    assert not any(entry.is_true for entry in before)
    # A radio's settings are looked for every 100 ms, and a boot takes a few ms at most.
    margin_ns = ns_from_s(0.25)
    over_ns = max(over_at_ns(struck), ns_from_s(2.0))
    clear = [e for e in after if e.at_ns < ns_from_s(2.0) or e.fed_ns > over_ns + margin_ns]
    assert len(clear) > 150
    assert not any(entry.is_true for entry in clear)
    is_seen = fault_kind(kind).impairs and reaches(struck, fault, "drive")
    inside = [e for e in after if e.fed_ns <= ns_from_s(2.0) <= e.at_ns]
    assert all(entry.is_true == bool(is_seen) for entry in inside)


@pytest.mark.parametrize("kind", [row.name for row in FAULT_KINDS.values()])
def test_a_fault_of_another_stream_explains_trips_of_a_timer_that_both_feed(kind: str) -> None:
    row = fault_kind(kind)
    if TRANSMITTER not in row.units or not row.is_silencing:
        assert not row.impairs or row.impairs == (VALUES,) or AIR in row.units
        return
    for fed_by, is_explained in (("any", True), ("own", False)):
        link = {"seed": 1, "boot_s": 0.4, "watchdog_ms": 0, "recheck_ms": 0, "fed_by": fed_by}
        slow = ["transmitter.head.period_ms=500", "failsafe.head.watch_field=''"]
        given = parse(LINK.format(**link), overrides=slow)
        fault = Fault(kind=kind, unit="drive", at_s=2.0, for_s=1.0 if row.is_lasting else None)
        timer = summarise(simulate(replace(given, fault=(fault,)))).figures.stream["head"].failsafe

        assert timer is not None
        if is_explained:
            assert (timer.trips_on_fault > 0, timer.nuisance_trips) == (True, 0)
        else:
            assert (timer.trips_on_fault, timer.nuisance_trips > 0) == (0, True)


def test_what_ends_a_fault_is_no_fault_of_its_own() -> None:
    for row in FAULT_KINDS.values():
        assert bool(ended_by(row.name)) == (not row.impairs)
