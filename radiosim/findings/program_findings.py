"""Findings about the receiver's program, and about what frames carry."""

from collections.abc import Iterable, Iterator

from radiosim.counted import counted
from radiosim.findings.case import FAULT, Case, Overrides
from radiosim.findings.failsafe_findings import acting_outputs, drill_of_all
from radiosim.findings.proof import Suspect
from radiosim.registers.fault_register import fault_kind
from radiosim.safety import STILL
from radiosim.scenario import Scenario
from radiosim.scenario.assumed import assumed_outputs
from radiosim.scenario.danger import frozen_unseen, streams_by_danger
from radiosim.scenario.structs.shared_keys import Work
from radiosim.study.frame_counter import counter_lines, how_to_count, stand_in


def latest_stream(case: Case) -> str:
    """The stream whose frames are read latest."""
    streams = case.summary.figures.stream
    return max(streams, key=lambda name: streams[name].latency_ms.p99 or 0.0)


def late_figure(case: Case) -> str:
    """Path of the figure that shows a loop too slow."""
    return f"stream.{latest_stream(case)}.latency_ms.p99"


def fifo_text(case: Case) -> str:
    """How many attempts found the FIFO full, in words; empty if none."""
    streams = case.summary.figures.stream.values()
    full, attempts = sum(s.fifo_dropped for s in streams), sum(s.attempts for s in streams)
    if not full:
        return ""
    return f"; {100 * full / attempts:.3g} % of all attempts found the receiver's FIFO full"


def blocking_delay(case: Case) -> Iterator[Suspect]:
    """A delay that frames wait for."""
    receiver, stream = case.scenario.receiver, latest_stream(case)
    if not receiver.delay_ms:
        return
    yield Suspect(
        what="the receiver's loop waits, and with it every frame in its radio",
        where="receiver.delay_ms",
        why=f"a delay of {receiver.delay_ms:g} ms in each pass; 99 of 100 frames of {stream} are "
        f"read within {case.summary.figures.stream[stream].latency_ms.p99 or 0:.3g} ms"
        f"{fifo_text(case)}",
        figure=late_figure(case),
        removed=("receiver.delay_ms=0",),
        cures=(("receiver.delay_ms=0",), ("receiver.read=all",), ("receiver.interrupt=true",)),
        advice="servos need no pause; where one is needed, look at the clock instead of waiting",
        measure="toggle a pin once a pass and look at the longest time between two edges",
    )


def one_read_a_pass(case: Case) -> Iterator[Suspect]:
    """One read a pass, with frames that wait for later passes."""
    receiver = case.scenario.receiver
    if receiver.read != "one" or receiver.interrupt:
        return
    yield Suspect(
        what="the program reads one frame a pass, and the others wait for the passes after it",
        where="receiver.read",
        why=f"frames queue in the radio{fifo_text(case)}",
        figure=late_figure(case),
        removed=("receiver.read=all",),
        cures=(("receiver.read=all",), ("receiver.read=newest",)),
        advice="read until the radio's FIFO is empty",
        measure="count the frames that are left in the FIFO after each read",
    )


MEASURE = "toggle a pin around the work and measure how long it stays up"


def blocking_work(case: Case) -> Iterator[Suspect]:
    """Work of the receiver, then of each transmitter."""
    receiver = case.scenario.receiver
    if receiver.work:
        longest = max(receiver.work, key=lambda work: work.most_ms)
        yield Suspect(
            what="work in the receiver's loop holds frames up",
            where="receiver.work",
            why=f"{_takes(longest)} every {longest.every_ms:g} ms{fifo_text(case)}",
            figure=late_figure(case),
            removed=("receiver.work=[]",),
            cures=(("receiver.interrupt=true",), ("receiver.read=all",)),
            advice="or do the work in slices, one a pass",
            measure=MEASURE,
        )
    for name, unit in case.scenario.transmitter.items():
        if unit.work:
            longest = max(unit.work, key=lambda work: work.most_ms)
            yield Suspect(
                what=f"work in {name}'s loop holds its frames up",
                where=f"transmitter.{name}.work",
                why=f"{_takes(longest)} every {longest.every_ms:g} ms",
                figure=f"stream.{name}.latency_ms.p99",
                removed=(f"transmitter.{name}.work=[]",),
                cures=(),
                advice="do the work in slices, or right after a frame was handed over",
                measure=MEASURE,
            )


def _takes(work: Work) -> str:
    """How long a work takes."""
    if work.longest_ms is None:
        return f"{work.takes_ms:g} ms"
    return f"{work.takes_ms:g} to {work.longest_ms:g} ms"


def deaf_receiver(case: Case) -> Iterator[Suspect]:
    """Deaf spans that take attempts."""
    streams = case.summary.figures.stream
    if not case.scenario.receiver.deaf or not streams:
        return
    name = max(streams, key=lambda stream: streams[stream].lost_deaf)
    figures = streams[name]
    if not figures.lost_deaf:
        return
    yield Suspect(
        what="the receiver stops listening now and then, and misses what is sent meanwhile",
        where="receiver.deaf",
        why=f"{figures.lost_deaf} of {figures.attempts} attempts of {name} found it deaf",
        figure=f"stream.{name}.lost_deaf",
        removed=("receiver.deaf=[]",),
        cures=(("receiver.deaf=[]",),),
        advice="let telemetry ride in the acknowledgements (receiver.acknowledge_payload_bytes), "
        "or send it seldom and shortly",
        measure="count lost frames with the telemetry switched off and on",
    )


LONG_S = 0.5
"""Boots shorter than this are no longer than a usual failsafe timeout (facts 9: 0.1 to 1 s)."""
SHORT_S = 0.2


def long_boot(case: Case) -> Iterator[Suspect]:
    """Units that a fault restarts, and that take long to boot."""
    scenario = case.scenario
    restarting = [f for f in scenario.fault if fault_kind(f.kind).restarts]
    for unit in dict.fromkeys(f.unit for f in restarting):
        described = scenario.transmitter.get(unit, scenario.receiver)
        key = "receiver" if unit == "receiver" else f"transmitter.{unit}"
        is_cold = any(fault_kind(f.kind).boots_cold for f in restarting if f.unit == unit)
        is_own = described.reset_boot_s is not None and not is_cold
        where = f"{key}.reset_boot_s" if is_own else f"{key}.boot_s"
        boot_s = described.boot_s if is_cold else described.warm_boot_s
        if boot_s < LONG_S:
            continue
        streams = [unit] if unit in scenario.transmitter else list(scenario.transmitter)
        name = max(streams, key=lambda stream: case.summary.figures.stream[stream].gap_ms.max)
        yield Suspect(
            what=f"{unit} is away for its whole boot when something resets it under way",
            where=where,
            why=f"it boots and calibrates for {boot_s:g} s before it works again",
            figure=f"stream.{name}.gap_ms.max",
            removed=(f"{where}=0",),
            cures=((f"{where}={SHORT_S:g}",),),
            advice="keep the calibration in memory, and calibrate only when asked to",
            measure=f"reset {unit} on the bench and take the time until the first new value",
        )


def still_values(case: Case) -> Iterator[Suspect]:
    """Streams without a counter that lose good frames as duplicates."""
    scenario = case.scenario
    for name, unit in scenario.transmitter.items():
        figures = case.summary.figures.stream[name]
        if name not in case.summary.mistaken:
            continue
        counter, field = counter_lines(scenario, name)
        if field and not counter:
            continue
        trips = figures.failsafe is not None and figures.failsafe.nuisance_trips > 0
        leaf = "failsafe.nuisance_trips" if trips else "duplicates"
        yield Suspect(
            what=f"{name}'s frames say the same while nothing moves: after three lost in a row "
            "the next good one is taken for a duplicate and never handed on",
            where=f"layout.{unit.layout}",
            why=f"{counted(figures.duplicates, 'frame')} taken for duplicates; the packet number "
            "has two bits and comes round after four",
            figure=f"stream.{name}.{leaf}",
            removed=counter or stand_in(scenario, name)[0],
            cures=(counter,) if counter else (),
            advice="a counter that goes up with every frame makes each one new"
            if counter
            else how_to_count(scenario, name),
            measure="hold the sticks still, cover the antenna for some frames, and watch whether "
            "the receiver's program sees the first one after it",
        )


def stale_values(case: Case) -> Iterator[Suspect]:
    """Failsafes that watch no field: all those together for which lines can be pasted, then those
    of full frames. Where nothing freezes in the scenario this is a note: nothing is wrong."""
    scenario = case.scenario
    watching = {name: _watching(scenario, name) for name in _watching_nothing(scenario)}
    pasted = tuple(name for name in watching if counter_lines(scenario, name)[1])
    full = tuple(name for name in watching if name not in pasted and watching[name])
    watch = "feed the timer only when a counter in the frame has changed"
    for names in (pasted, full):
        if not names:
            continue
        lines = tuple(dict.fromkeys(line for name in names for line in watching[name]))
        who, is_pasted = " or ".join(names), names == pasted
        counts = "; ".join(dict.fromkeys(how_to_count(scenario, name) for name in names))
        yield Suspect(
            what=f"no timeout catches {who} when it hangs and repeats its last values",
            where=f"failsafe.{names[0]}.watch_field",
            why=f"the values of {' and '.join(names)} stale for good, the radio still sending",
            figure=FAULT,
            removed=lines,
            cures=(lines,) if is_pasted else (),
            advice=watch if is_pasted else f"{counts}; {watch} (failsafe.{names[0]}.watch_field)",
            measure=f"{STILL}: make the firmware of {who} send one frame again and again",
            drill=drill_of_all(scenario, names, "stale"),
            share=0.0,
            is_note=not any(fault.kind == "stale" for fault in scenario.fault),
        )


def _watching_nothing(scenario: Scenario) -> tuple[str, ...]:
    """Streams whose failsafe watches no field though they drive what must stop, the worst first."""
    return tuple(name for name in streams_by_danger(scenario) if frozen_unseen(scenario, name))


def _watching(scenario: Scenario, stream: str) -> Overrides:
    """What lets a stream's failsafe see it freeze: a counter, or what stands in for one in reruns;
    empty if there is neither."""
    added, field = counter_lines(scenario, stream)
    lines, field = (added, field) if field else stand_in(scenario, stream)
    if not field:
        return ()
    driven = frozen_unseen(scenario, stream)
    stops = () if acting_outputs(scenario, stream) else _off_lines(scenario, driven)
    return (*lines, f"failsafe.{stream}.watch_field={field}", *stops)


def _off_lines(scenario: Scenario, outputs: Iterable[str]) -> Overrides:
    """What lets outputs stop on failsafe; those that are assumed have a preset then."""
    assumed = assumed_outputs(scenario)
    return tuple(f"output.{name}.on_failsafe=off" for name in outputs if name not in assumed)


def fixed_length(case: Case) -> Iterator[Suspect]:
    """A link with a fixed length that all frames fall short of."""
    scenario = case.scenario
    length = scenario.radio.payload_length
    if length == "own":
        return
    sizes = {name: scenario.layout_of(name).size_bytes for name in scenario.transmitter}
    name = min(sizes, key=lambda stream: sizes[stream])
    yield Suspect(
        what=f"every frame is padded to {length} bytes, and is on the air for longer than its "
        "values need",
        where="radio.payload_length",
        why=f"{name} has {sizes[name]} bytes to say",
        figure=f"stream.{name}.duty_cycle",
        removed=("radio.payload_length=own",),
        cures=(
            ("radio.payload_length=own",),
            (f"radio.payload_length={max(sizes.values())}",),
        ),
        advice="set the length on all radios alike",
        measure="watch the supply current of the transmitter: its peaks are as long as the frames",
    )
