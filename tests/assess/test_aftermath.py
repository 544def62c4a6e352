"""What is said of a fault follows from the trace: each start is looked at again, row by row."""

import math
import re
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from radiosim.assess.aftermath import befell, fault_text
from radiosim.assess.hazards import hazards
from radiosim.engine.plan import make_plan, struck, struck_unit
from radiosim.engine.simulate import simulate
from radiosim.measure.of_fault import due_ns, touches
from radiosim.measure.scripted import has_no_effect, is_reached
from radiosim.measure.start import tally_start
from radiosim.measure.summarise import summary_of
from radiosim.measure.tally import Fate
from radiosim.registers.fault_kind import AIR, RECEIVER, TRANSMITTER
from radiosim.registers.fault_register import FAULT_KINDS, fault_kind
from radiosim.scenario import Scenario, parse
from radiosim.scenario.structs.output_table import Preset
from radiosim.trace import Trace
from radiosim.units import ns_from_ms, ns_from_s
from radiosim.vehicle.fold.program_state import FAILSAFE, STARTED, STOPPED, WRITTEN
from radiosim.vehicle.vehicle import OutputRecord, run_vehicle
from tests.engines.random_scenarios import scenarios
from tests.examples import examples

STARTS = 2


def is_felt(trace: Trace, index: int, unit: int) -> bool:
    """Whether a unit goes through other steps than if the fault were not in the file."""
    given = trace.scenario
    others = tuple(fault for k, fault in enumerate(given.fault) if k != index)
    plans = (make_plan(one, trace.start) for one in (given, replace(given, fault=others)))
    with_it, without = ([s for s in plan.steps if s.unit == unit] for plan in plans)
    return with_it != without


def in_effect_ns(trace: Trace, name: str, record: OutputRecord, entry: int) -> float:
    """When an entry into failsafe is in effect; inf: never."""
    output = trace.scenario.output[name]
    effects = record.effects
    if isinstance(output.on_failsafe, Preset):
        ends = [int(e["end_ns"]) for e in effects if e["entry"] == entry]
        return ends[0] if ends else math.inf
    off_ns = int(record.told["at_ns"][entry])
    if output.kind == "servo":
        live = [e for e in effects if e["entry"] < entry and not math.isnan(e["level"])]
        off_ns = max([off_ns, *(int(e["end_ns"]) for e in live)])
    return off_ns + (ns_from_ms(output.motor.signal_loss_ms) if output.motor else 0)


def rows_of(record: OutputRecord) -> list[tuple[int, int, int]]:
    """When, what, and of which sample: all that an output was told."""
    return [(int(r["at_ns"]), int(r["kind"]), int(r["sampled_ns"])) for r in record.told]


def fate_in(trace: Trace, name: str, record: OutputRecord, index: int) -> Fate:
    """What became of one output at one fault of one start."""
    scenario, plan = trace.scenario, make_plan(trace.scenario, trace.start)
    output, fault = scenario.output[name], scenario.fault[index]
    unit, at_ns = struck_unit(fault, output.stream), ns_from_s(fault.at_s)
    if not is_felt(trace, index, (*plan.streams, "receiver", "air").index(unit)):
        return Fate.NOTHING
    before = next((kind for at, kind, _ in reversed(rows_of(record)) if at < at_ns), STOPPED)
    is_kept = output.on_failsafe == "hold" or output.stream not in scenario.failsafe
    if before == WRITTEN or (is_kept and before == FAILSAFE):
        return fate_of_driven(trace, name, record, index)
    return Fate.WAS_ON if before in (FAILSAFE, STARTED) and not is_kept else Fate.NOT_DRIVEN


def fate_of_driven(trace: Trace, name: str, record: OutputRecord, index: int) -> Fate:
    """The same of an output that was driven as the fault struck."""
    scenario, plan = trace.scenario, make_plan(trace.scenario, trace.start)
    output, fault, rows = scenario.output[name], scenario.fault[index], rows_of(record)
    at_ns = ns_from_s(fault.at_s)
    over_ns = struck(scenario, plan, index, struck_unit(fault, output.stream)).over_ns
    ends = [
        entry
        for entry, (at, kind, sampled_ns) in enumerate(rows)
        if at >= at_ns and (kind == STOPPED or (kind == WRITTEN and sampled_ns >= over_ns))
    ]
    last = ends[0] if ends else len(rows)
    fresh = [e for e in record.effects if e["is_fresh"] and e["values_ns"] >= over_ns]
    until_ns = int(fresh[0]["end_ns"]) if fresh else plan.until_ns
    entries = [k for k, (at, kind, _) in enumerate(rows[:last]) if at >= at_ns and kind == FAILSAFE]
    if not isinstance(output.on_failsafe, Preset):
        entries = entries[:1]
    due = due_ns(scenario, plan, name)
    is_kept = output.on_failsafe == "hold" or due is None
    if not is_kept and any(in_effect_ns(trace, name, record, k) < until_ns for k in entries):
        return Fate.CAME
    if ends and rows[last][1] == STOPPED:
        return Fate.NO_PULSES
    if is_kept or due is None:
        return Fate.HELD
    fed_ns = [at for at, kind, _ in rows[: last + 1] if kind == WRITTEN]
    gaps = pairwise([*fed_ns, *(() if ends else (plan.until_ns,))])
    silent_ns = max((later - earlier for earlier, later in gaps if later >= at_ns), default=0)
    if not fault_kind(fault.kind).is_silencing:
        is_stale = bool(fault_kind(fault.kind).impairs)
        lasts_ns = min(over_ns, plan.until_ns) - last_change_ns(record, at_ns, over_ns)
        silent_ns = lasts_ns if is_stale else 0
    return Fate.NEVER_CAME if silent_ns > due else Fate.NOT_DUE


def last_change_ns(record: OutputRecord, at_ns: int, over_ns: int) -> int:
    """When an output was last told other values than before; the fault's instant at least."""
    last_ns, values_ns = at_ns, None
    for row in record.told:
        if row["kind"] == WRITTEN and row["at_ns"] < over_ns:
            if row["values_ns"] != values_ns:
                last_ns = max(last_ns, int(row["at_ns"]))
            values_ns = row["values_ns"]
    return last_ns


def looked_at(traces: list[Trace], index: int) -> dict[str, Counter[Fate]]:
    """Fates of each output that a fault can touch, counted over starts."""
    given = traces[0].scenario
    records = [run_vehicle(trace).outputs for trace in traces]
    return {
        name: Counter(
            fate_in(trace, name, record[name], index)
            for trace, record in zip(traces, records, strict=True)
        )
        for name, output in given.output.items()
        if touches(given.fault[index], output)
    }


def saying(fate: Fate, fault_is_bitten: bool, names: str, starts: str) -> str:
    """The sentence of a fate, as a pattern."""
    cut = "after the watchdog" if fault_is_bitten else "meanwhile"
    return {
        Fate.NEVER_CAME: f"FAILSAFE NEVER CAME{starts} on {names}",
        Fate.HELD: f"nothing stops {names}{starts}",
        Fate.NO_PULSES: f"no pulses {cut} from {names}{starts}",
        Fate.CAME: f"failsafe in effect after [0-9.]+ (?:ms|s){starts}( on {names}|;|$)",
        Fate.NOT_DUE: f"failsafe was not due{starts} on {names}",
        Fate.WAS_ON: f"failsafe was on already{starts}( on {names}|;|$)",
        Fate.NOT_DRIVEN: f"nothing drove {names}{starts}",
        Fate.NOTHING: f"no effect{starts}",
    }[fate]


def check_what_is_said(given: Scenario) -> Counter[Fate]:
    """Every sentence on every fault against the traces; the fates that there were."""
    traces = [simulate(given, start=start) for start in range(STARTS)]
    summary = summary_of(given, [tally_start(trace) for trace in traces])
    seen: Counter[Fate] = Counter()
    dangers = " ".join(hazard.text for hazard in hazards(summary, given))
    for index, fault in enumerate(summary.figures.faults):
        found = looked_at(traces, index)
        if not is_reached(summary, fault):
            continue
        for name, fates in found.items():
            assert {Fate(word): n for word, n in fault.outputs[name].fates.items()} == fates
            assert fates.total() == STARTS
            seen += fates
        text = fault_text(summary, given, fault)
        never = {name for name, fates in found.items() if fates[Fate.NEVER_CAME]}
        if has_no_effect(summary, fault):
            assert text.startswith("no effect: ")
            assert set().union(*found.values()) <= {Fate.NOTHING}
            continue
        if fault_kind(fault.kind).impairs:
            for what in befell(given, fault):
                starts = "" if what.starts == STARTS else f" in {what.starts} of {STARTS} starts"
                is_bitten = fault.is_bitten and fault.unit == "receiver"
                names = re.escape(text_of(what.names))
                assert re.search(saying(what.fate, is_bitten, names, starts), text)
        assert ("NEVER CAME" in text) == bool(never)
        for name in never:
            assert re.search(rf"FAILSAFE NEVER CAME[^;]* on [^;]*\b{name}\b", text)
            assert re.search(rf"FAILSAFE NEVER CAME[^;]* on [^;]*\b{name}\b", dangers)
    is_said = any(
        "never came" in at.fates
        for fault in summary.figures.faults
        for at in fault.outputs.values()
        if is_reached(summary, fault)
    )
    assert ("NEVER CAME" in dangers) == is_said
    return seen


def text_of(names: tuple[str, ...]) -> str:
    """Names as a sentence lists them."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


@given(scenarios)
@examples(80, deadline=None)
def test_what_is_said_of_faults_is_what_random_traces_show(given: Scenario) -> None:
    check_what_is_said(given)


LINK = """
duration_s = 4
radio.profile = "gfsk-1M"
air.loss = 0.05
layout.drive.fields = [ { name = "n", type = "u8" }, { name = "throttle", type = "i8" } ]
transmitter.drive.period_ms = 20
transmitter.drive.layout = "drive"
transmitter.drive.boot_s = 0.1
transmitter.drive.jitter_ms = 1
transmitter.drive.signals.n.kind = "counter"
transmitter.head = { period_ms = 23, payload_bytes = 4, boot_s = 0.1, retry_delay_us = 1250 }
receiver.loop_ms = 3
receiver.boot_s = 0.2
failsafe.drive.timeout_ms = 200
failsafe.head.timeout_ms = 90
output.motor = { stream = "drive", field = "throttle", on_failsafe = { preset_us = 1500 } }
output.blade.stream = "drive"
output.blade.field = "throttle"
output.blade.kind = "pwm"
output.blade.on_failsafe = "off"
output.lamp = { stream = "drive", field = "throttle", kind = "pin", on_failsafe = "hold" }
output.pan = { stream = "head", field = "value", on_failsafe = "off" }
"""
OTHERWISE = (
    "failsafe.drive.fed_by=any",
    "failsafe.drive.watch_field=n",
    "receiver.watchdog_ms=300",
    "transmitter.drive.watchdog_ms=150",
    "receiver.recheck_ms=100",
    "transmitter.drive.recheck_ms=100",
    "receiver.radio_survives=false",
    "failsafe.drive.resume_frames=5",
    "output.blade.motor={signal_loss_ms=400}",
)
UNITS = {TRANSMITTER: ("drive", "head"), RECEIVER: ("receiver",), AIR: ("air",)}
KINDS = tuple(
    (row.name, name) for row in FAULT_KINDS.values() for sort in row.units for name in UNITS[sort]
)


@st.composite
def faults(draw: st.DrawFn, kind: str, unit: str) -> str:
    """One fault as a line, at any instant of the link, also before its units are up."""
    at_s = draw(st.one_of(st.sampled_from([0.05, 0.3, 1.0, 1.2]), st.floats(0, 4.2)))
    fault = f'at_s={at_s:.3f},kind="{kind}",unit="{unit}"'
    if fault_kind(kind).is_lasting and draw(st.booleans()):
        fault += f",for_s={draw(st.sampled_from([0.02, 0.15, 0.3, 1.5])):g}"
    return f"{{{fault}}}"


@st.composite
def links(draw: st.DrawFn) -> Scenario:
    """The link with up to four faults of any kinds, some keys set otherwise."""
    drawn = draw(st.lists(st.sampled_from(KINDS), min_size=1, max_size=4))
    lines = [draw(faults(*which)) for which in drawn]
    keys = draw(st.lists(st.sampled_from(OTHERWISE), unique=True, max_size=3))
    return parse(LINK, overrides=(*keys, f"fault=[{','.join(lines)}]"))


@given(links())
@examples(75, deadline=None)
def test_what_is_said_of_faults_is_what_the_traces_of_a_plain_link_show(given: Scenario) -> None:
    check_what_is_said(given)


@pytest.mark.parametrize(("kind", "unit"), KINDS)
def test_no_fault_that_finds_failsafe_on_is_said_to_have_missed_it(kind: str, unit: str) -> None:
    """The transmitters are off from 1 s on, and the fault strikes at 2 s."""
    off = [f'{{at_s=1,kind="power_off",unit="{name}"}}' for name in ("drive", "head")]
    for at_s in (0.05, 2.0):
        late = f'{{at_s={at_s},kind="{kind}",unit="{unit}"}}'
        given = parse(LINK, overrides=(f"fault=[{','.join((*off, late))}]",))
        summary = summary_of(given, [tally_start(simulate(given, start=k)) for k in range(STARTS)])
        text = fault_text(summary, given, summary.figures.faults[2])

        assert "NEVER CAME" not in text
        assert "in effect after" not in text


def test_every_fate_is_met() -> None:
    lines = (
        '{at_s=1,kind="stale",unit="drive",for_s=0.5}',
        '{at_s=1.7,kind="power_off",unit="drive",for_s=0.5}',
        '{at_s=2,kind="hang",unit="drive"}',
        '{at_s=2.1,kind="out_of_range",unit="drive",for_s=0.02}',
        '{at_s=2.7,kind="reset",unit="drive"}',
        '{at_s=3.2,kind="brownout",unit="receiver",for_s=0.1}',
        '{at_s=3.3,kind="jam",unit="air",for_s=0.1}',
    )
    given = parse(LINK, overrides=("air.loss=0", f"fault=[{','.join(lines)}]"))

    assert set(check_what_is_said(given)) == set(Fate)
