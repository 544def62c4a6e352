"""The verdict over a run, and the three answers that come before all figures."""

import math
import shlex
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from radiosim.assess.aftermath import never_came
from radiosim.assess.in_words import SHORTEST_S, simulated_s
from radiosim.findings.rules import PERIODS_WITHOUT_FAILSAFE, limit_of_ms, sampling_ms
from radiosim.measure.scripted import has_no_effect, is_cut, is_reached, over_at_s
from radiosim.measure.summary import Finding, Summary
from radiosim.results.formats import duration_text, fmt_count, fmt_percent, list_text
from radiosim.scenario import Scenario
from radiosim.scenario.danger import frozen_unseen, hang_unseen, outputs_by_danger
from radiosim.scenario.noise import noise_per_hour

STARVING_SHARE = 0.5
STEADY_SHARE = 0.9

Verdict = Literal["silent", "starves", "gaps", "cut by fault", "steady"]
VERDICTS: tuple[Verdict, ...] = ("silent", "starves", "gaps", "cut by fault", "steady")
"""The worst first."""

RULES = (
    "silent: nothing was ever read.",
    "starves: a nuisance trip, or less than half of the samples were read, or the longest gap is "
    "longer than the failsafe timeout.",
    "cut by fault: the longest gap is longer than that, but a fault of the scenario lies in it.",
    "gaps: the longest gap is longer than half the timeout, or more than 10 % of the samples were "
    "not read.",
    "steady: none of these.",
    "Time in which the receiver boots or has a fault is not held against a stream's share. Without "
    f"a failsafe, {PERIODS_WITHOUT_FAILSAFE} sampling periods stand for the timeout.",
)


def verdict(summary: Summary, scenario: Scenario, stream: str) -> Verdict:
    """The word on one stream (see RULES)."""
    figures = summary.figures.stream[stream]
    if not figures.read:
        return "silent"
    is_tripped = figures.failsafe is not None and figures.failsafe.nuisance_trips > 0
    if is_tripped or reads_less_than(STARVING_SHARE, summary, scenario, stream):
        return "starves"
    limit_ms = limit_of_ms(scenario, summary, stream)
    if figures.gap_ms.max > limit_ms:
        return "cut by fault" if is_cut(summary, stream) else "starves"
    is_lossy = reads_less_than(STEADY_SHARE, summary, scenario, stream)
    return "gaps" if is_lossy or figures.gap_ms.max > limit_ms / 2 else "steady"


def verdicts(summary: Summary, scenario: Scenario) -> dict[str, Verdict]:
    """The word on every stream."""
    return {name: verdict(summary, scenario, name) for name in summary.figures.stream}


def reads_less_than(share: float, summary: Summary, scenario: Scenario, stream: str) -> bool:
    """Whether a smaller share of the samples was read, boot and faults of the receiver apart."""
    figures, unit = summary.figures.stream[stream], scenario.transmitter[stream]
    sampling_s = sampling_ms(scenario, summary, stream) / 1000
    alive_s = figures.sampled * sampling_s / summary.starts
    down_s = max(0.0, scenario.receiver.boot_s - unit.start_s - unit.boot_s) + math.fsum(
        over_at_s(summary, fault) - fault.at_s + (fault.recovered_ms or 0.0) / 1000
        for fault in summary.figures.faults
        if fault.unit == "receiver" and is_reached(summary, fault)
    )
    up_share = max(0.0, 1 - down_s / max(alive_s, sampling_s))
    return figures.read < share * up_share * figures.sampled


class Answer(NamedTuple):
    """One question's answer, and whether it is good news; None: neither."""

    text: str
    is_good: bool | None


def failsafe_answer(summary: Summary, scenario: Scenario) -> Answer:
    """Whether outputs stop when their transmitter goes silent, and at the scenario's faults."""
    bounds_ms = {
        name: bound_ms
        for reaction in summary.reaction.values()
        for name, bound_ms in reaction.bound_ms.items()
    }
    if not bounds_ms:
        return Answer("the scenario has no outputs: what would be left driven is not known", None)
    parts = [
        *_never_came(summary, scenario),
        *_unbounded(summary, scenario),
    ]
    bounded = [bound_ms for bound_ms in bounds_ms.values() if bound_ms is not None]
    if bounded:
        who = "every output is" if len(bounded) == len(bounds_ms) else _others(len(bounded))
        parts.append(
            f"{who} in failsafe within {duration_text(max(bounded))} of its transmitter's silence"
        )
    if len(parts) > 1 or len(bounded) < len(bounds_ms):
        return Answer("; ".join(parts), False)
    unseen = tuple(_unseen(scenario))
    if unseen:
        return Answer(f"{parts[0]}, but not if {list_text(unseen, 'or')}: see ! below", None)
    return Answer(parts[0], True)


def _unseen(scenario: Scenario) -> Iterator[str]:
    """What leaves outputs driven though each has a bound when its transmitter goes silent."""
    frozen = tuple(name for name in scenario.transmitter if frozen_unseen(scenario, name))
    if frozen:
        yield f"{list_text(frozen, 'or')} repeats old values"
    if hang_unseen(scenario):
        yield "the receiver's program hangs"
    if noise_per_hour(scenario) is not None:
        yield "noise passes for a frame"


def _never_came(summary: Summary, scenario: Scenario) -> Iterator[str]:
    """The faults of the scenario at which a failsafe that was due did not come."""
    faults = [
        fault
        for fault in summary.figures.faults
        if is_reached(summary, fault) and not has_no_effect(summary, fault)
    ]
    missed = [fault for fault in faults if never_came(scenario, fault)]
    if missed and len(summary.figures.faults) == 1:
        yield "it NEVER CAME at the scenario's fault"
    elif missed:
        count = len(summary.figures.faults)
        yield f"it NEVER CAME at {len(missed)} of the scenario's {count} faults"


def _unbounded(summary: Summary, scenario: Scenario) -> Iterator[str]:
    """Outputs whose failsafe reaction time has no bound, by what becomes of them."""
    kept: list[str] = []
    late: list[str] = []
    for reaction in summary.reaction.values():
        for name, bound_ms in reaction.bound_ms.items():
            if bound_ms is None:
                holds = scenario.output[name].on_failsafe == "hold"
                (kept if holds or reaction.timeout_ms is None else late).append(name)
    kept, late = (list(outputs_by_danger(scenario, names)) for names in (kept, late))
    if kept:
        verb = "keeps its last value" if len(kept) == 1 else "keep their last values"
        yield f"{list_text(kept)} {verb} when the transmitter goes silent"
    if late:
        yield f"{list_text(late)} may NEVER be in failsafe when the transmitter goes silent"


def _others(count: int) -> str:
    return "the other output is" if count == 1 else f"each of the other {count} outputs is"


def stutter_answer(summary: Summary, scenario: Scenario) -> Answer:
    """How the stream that gets its values worst gets them, and in how much simulated time."""
    words = verdicts(summary, scenario)
    name = min(
        words, key=lambda stream: (VERDICTS.index(words[stream]), _ease(scenario, summary, stream))
    )
    word = words[name]
    total_s = simulated_s(summary)
    seen = f"in {duration_text(1000 * total_s)} simulated"
    if word == "silent":
        return Answer(f"{name}: not one of its values was read {seen}", False)
    if word == "steady":
        who = f"{name} is steady" if len(words) == 1 else "every stream is steady"
        seen += ", too short to tell more" if total_s < SHORTEST_S else ""
    else:
        who = {
            "starves": f"{name} STARVES",
            "gaps": f"{name} has gaps",
            "cut by fault": f"a fault of the scenario cuts off {name}",
        }[word]
    whose = f"{name}'s " if word == "steady" and len(words) > 1 else ""
    return Answer(
        f"{who}: {whose}{'; '.join(_gaps(summary, scenario, name))} ({seen})",
        {"steady": True, "cut by fault": None}.get(word, False),
    )


def _ease(scenario: Scenario, summary: Summary, stream: str) -> float:
    """The less, the worse: how far the longest gap is from one that is too long."""
    return limit_of_ms(scenario, summary, stream) / max(
        summary.figures.stream[stream].gap_ms.max, 1e-9
    )


def _gaps(summary: Summary, scenario: Scenario, name: str) -> Iterator[str]:
    figures = summary.figures.stream[name]
    gap, start = figures.gap_ms, ""
    if summary.start is None:
        start = f" in start {figures.longest_gap_start}"
    p99 = "" if gap.p99 is None else f"p99 {duration_text(gap.p99)}, "
    why = " (a fault of the scenario in it)" if is_cut(summary, name) else ""
    yield f"gaps {p99}longest {duration_text(gap.max)}{start}{why}"
    latencies = {
        output: driven.latency_ms.p99
        for output, driven in summary.figures.output.items()
        if driven.stream == name and driven.latency_ms.p99 is not None
    }
    if latencies:
        slowest = max(latencies, key=lambda output: latencies[output] or 0.0)
        yield f"latency to {slowest} p99 {duration_text(latencies[slowest])}"
    elif figures.latency_ms.p99 is not None:
        yield f"latency to its read p99 {duration_text(figures.latency_ms.p99)}"
    if reads_less_than(STEADY_SHARE, summary, scenario, name):
        yield f"{fmt_percent(figures.delivery_ratio)} of its samples read"
    if figures.failsafe is not None and figures.failsafe.nuisance_trips:
        trips = figures.failsafe.nuisance_trips
        yield f"{fmt_count(trips)} nuisance {'trip' if trips == 1 else 'trips'}"


def _by_hand(wrong: Sequence[Finding], findings: Sequence[Finding]) -> str:
    """The first thing that hands must do, where no line cures anything."""
    for number, found in enumerate(wrong, 1):
        if found.is_by_hand:
            return f"{found.cure} (finding {number} of {len(wrong)} below)"
    if wrong:
        return "no line that was tried cures what is found below"
    return f"{findings[0].cure} (see below)"


def change_answer(summary: Summary) -> Answer:
    """How many lines cure how many of the findings."""
    findings, cure = summary.findings, summary.cure
    if findings is None:
        return Answer("nobody looked for what is wrong", None)
    if not findings:
        return Answer("nothing found", None)
    wrong = [found for found in findings if not found.is_note]
    if cure is None or not cure.set:
        return Answer(_by_hand(wrong, findings), None)
    lines = "1 line below" if len(cure.set) == 1 else f"{len(cure.set)} lines below"
    together = "" if len(cure.set) == 1 else ", tried together"
    if not wrong:
        tell = "tells" if len(cure.set) == 1 else "tell"
        text = f"nothing found; {lines} {tell} the failsafe what it cannot see{together}"
        return Answer(text, None)
    cured = sum(bool(found.set) for found in wrong)
    if cured == len(wrong):
        which = "the one finding" if cured == 1 else f"all {cured} findings"
    else:
        which = f"{cured} of {len(wrong)} findings"
    if any(found.set for found in findings if found.is_note):
        which += " and what the failsafe cannot see"
    verb = "cures" if len(cure.set) == 1 else "cure"
    return Answer(f"{lines} {verb} {which}{together}", None)


def line_to_paste(line: str) -> str:
    """A `KEY=VALUE` line as an option, as a shell takes it."""
    is_plain = not any(letter in line for letter in " {}[]\"'#*$&;<>|()`\\!~?")
    return f"--set {line}" if is_plain else f"--set {shlex.quote(line)}"
