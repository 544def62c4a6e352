"""What the live page says of a look, as JSON: the package's docstring says which."""

import math
from collections.abc import Callable, Iterator
from typing import Any

import msgspec

from radiosim.assess.answers import failsafe_answer, stutter_answer, verdict
from radiosim.assess.hazards import Rank, hazards
from radiosim.assess.in_words import asked_text, measured_text, nuisance_text, worst_first
from radiosim.counted import counted
from radiosim.engine.plan import make_plan
from radiosim.measure.summarise import reactions_of, summary_of_pool
from radiosim.measure.summary import RequirementFigures, StreamFigures, Summary
from radiosim.registers.figure_register import is_rate
from radiosim.report.figures import gaps, latency
from radiosim.report.live.near import near_picture, pair_text
from radiosim.report.live.pictures import picture
from radiosim.report.run import held_text, is_well
from radiosim.results.document import Figure
from radiosim.results.formats import duration_text, fmt_percent, fmt_sig3
from radiosim.scenario import Scenario
from radiosim.study.live.looks import Look
from radiosim.study.tune.period_pairs import pairs_of
from radiosim.units import NS_PER_MS
from radiosim.vehicle.reaction_bound import with_slowest_clock

Said = dict[str, Any]
FINAL = (Rank.NO_BOUND, Rank.WARNING)
"""What no start can change."""
MOST_LISTED = 1000
"""Starts whose longest gaps are told one by one."""


def encoded(said: Said) -> bytes:
    """One line of JSON."""
    return msgspec.json.encode(said) + b"\n"


def foretold(scenario: Scenario) -> Said:
    """What needs no simulation: where periods beat, how soon failsafe is in effect."""
    pairs = pairs_of(scenario)
    reactions = reactions_of(scenario, make_plan(with_slowest_clock(scenario), 0))
    return {
        "kind": "foretold",
        "starts": scenario.starts,
        "simulated_s": scenario.starts * scenario.duration_s,
        "pairs": [
            {
                "first": pair.first,
                "second": pair.second,
                "is_beating": pair.is_beating,
                "text": pair_text(pair),
            }
            for pair in pairs
        ],
        "reaction": [
            {
                "output": output,
                "bound_ms": bound_ms,
                "text": f"in failsafe within {duration_text(bound_ms)} of silence"
                if bound_ms is not None
                else f"NO BOUND: {reaction.why.get(output, '')}",
            }
            for reaction in reactions.values()
            for output, bound_ms in reaction.bound_ms.items()
        ],
        "figures": [near_picture(pairs)] if pairs else [],
    }


def told(scenario: Scenario, look: Look, summary: Summary) -> Said:
    """What a look says: what more starts may still change is said to be so far."""
    late = latency.latency_data(summary)
    shown = [gaps.figure_of(gaps.gaps_data(summary, scenario))]
    shown += [] if late is None else [latency.figure_of(late)]
    states = [_state(asked, look) for asked in worst_first(summary.requirements)]
    is_known = look.is_last or "failed" in states
    return {
        "kind": "look",
        "number": look.number,
        "starts": look.starts,
        "of": look.of,
        "is_last": look.is_last,
        "simulated_s": look.starts * scenario.duration_s,
        "verdict": _so_far(held_text(summary), look),
        "is_well": is_well(summary, scenario) if is_known else None,
        "answers": [
            {
                "question": question,
                "text": answer.text,
                "is_good": answer.is_good if look.is_last else None,
            }
            for question, answer in (
                ("Does failsafe come?", failsafe_answer(summary, scenario)),
                ("Does control stutter?", stutter_answer(summary, scenario)),
            )
        ],
        "streams": [_stream(summary, scenario, name, look) for name in scenario.transmitter],
        "outputs": [_output(summary, name) for name in scenario.output],
        "requirements": [
            {
                "figure": asked.figure,
                "is": measured_text(asked),
                "asked": asked_text(asked),
                "state": state,
                "why": asked.why,
            }
            for asked, state in zip(worst_first(summary.requirements), states, strict=True)
        ],
        "hazards": [
            {"text": hazard.text, "is_final": look.is_last or hazard.rank in FINAL}
            for hazard in hazards(summary, scenario)
        ],
        "figures": [_picture(figure, look) for figure in shown],
    }


def _so_far(text: str, look: Look) -> str:
    if look.is_last:
        return text
    return f"So far, {look.starts} of {counted(look.of, 'start')}: {text[0].lower()}{text[1:]}"


def _picture(figure: Figure, look: Look) -> Said:
    found = picture(figure)
    return found if look.is_last else {**found, "title": f"So far: {found['title']}"}


def summary_of(scenario: Scenario, look: Look) -> Summary:
    """The figures of a look, its intervals as wide as it asks for."""
    return summary_of_pool(scenario, look.pool, has_curves=True, miss=look.miss)


def _state(asked: RequirementFigures, look: Look) -> str:
    """What is known of a requirement: what one start has failed stays so, all else may change."""
    if look.is_last:
        return {True: "holds", False: "failed", None: "open"}[asked.ok]
    return "failed" if asked.ok is False and not is_rate(asked.figure) else "open"


def _stream(summary: Summary, scenario: Scenario, name: str, look: Look) -> Said:
    stream = summary.figures.stream[name]
    rows = look.pool.rows
    return {
        "name": name,
        "verdict": verdict(summary, scenario, name),
        "figures": [
            _longest(stream, look),
            _figure("gap_ms.p99", "gap p99", stream.gap_ms.p99),
            _figure("latency_ms.median", "latency median", stream.latency_ms.median),
            _figure("latency_ms.p99", "latency p99", stream.latency_ms.p99),
            _said("delivery_ratio", "samples read", stream.delivery_ratio, fmt_percent),
            *_trips(summary, stream, look),
        ],
        "longest_ms": [row.streams[name].longest_gap_ns / NS_PER_MS for row in rows[:MOST_LISTED]],
    }


def _longest(stream: StreamFigures, look: Look) -> Said:
    """The longest gap: of few starts it is the least that there is."""
    ms, chance = stream.gap_ms.max, look.chance_of_more
    where = "" if look.starts == 1 else f"in start {stream.longest_gap_start}"
    more = ""
    if chance is not None:
        more = f"another ordinary start has a longer one with a chance of at most {_share(chance)}"
    return {
        **_figure("gap_ms.max", "longest gap", ms, "; ".join(filter(None, (where, more)))),
        "text": duration_text(ms) if look.is_last else f"at least {duration_text(ms)}",
        "chance_of_more": chance,
    }


def _share(chance: float) -> str:
    """A chance as a whole number of per cent, rounded up: it is a bound."""
    return f"{math.ceil(100 * chance - 1e-9)} %"


def _trips(summary: Summary, stream: StreamFigures, look: Look) -> Iterator[Said]:
    """Nuisance trips; no rate of a single start that had some: it was chosen to see a beat."""
    if stream.failsafe is None:
        return
    trips = stream.failsafe.nuisance_trips
    text = nuisance_text(summary, stream.failsafe)
    if trips and look.starts == 1 < look.of:
        text = f"{counted(trips, 'nuisance trip')} in this start"
    yield {**_said("failsafe.nuisance_trips", "nuisance trips", trips, fmt_sig3), "text": text}


def _output(summary: Summary, name: str) -> Said:
    output = summary.figures.output[name]
    return {
        "name": name,
        "figures": [
            _figure("latency_ms.median", "latency median", output.latency_ms.median),
            _figure("latency_ms.p99", "latency p99", output.latency_ms.p99),
            _figure("age_ms.p99", "age p99", output.age_ms.p99),
        ],
    }


def _figure(key: str, title: str, ms: float | None, note: str = "") -> Said:
    return {**_said(key, title, ms, duration_text), "note": note}


def _said(key: str, title: str, value: float | None, show: Callable[[float | None], str]) -> Said:
    return {"key": key, "title": title, "text": show(value), "value": value, "note": ""}
