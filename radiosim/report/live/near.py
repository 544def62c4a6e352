"""How near each two periods of a scenario are to beating, in closed form: no start is simulated."""

from collections.abc import Sequence
from typing import Any

from radiosim.counted import counted
from radiosim.report.tune_sentences import pair_sentence
from radiosim.study.tune.period_pairs import Pair


def pair_text(pair: Pair) -> str:
    """How near two periods are to beating, or how they beat, as `radiosim tune` says it."""
    said = pair_sentence(pair)
    return f"{said.lead}: {said.text}"


def near_picture(pairs: Sequence[Pair]) -> dict[str, Any]:
    """A picture of the distances, ms, beside how near is near enough."""
    return {
        "name": "near",
        "title": _title([pair for pair in pairs if pair.is_beating]),
        "text": "In closed form, before any start: how far two periods are from a whole multiple "
        "of each other, clock errors that are given included. Nearer than frames, turns of the "
        "radio, jitters, dithers and clocks reach, they beat, unless a dither scatters them. "
        f"{'; '.join(map(pair_text, pairs))}.",
        "data": {
            "pairs": [
                {
                    "first": pair.first,
                    "second": pair.second,
                    "is_beating": pair.is_beating,
                    "distance_ms": pair.distance_ms,
                    "window_ms": pair.window_ms,
                }
                for pair in pairs
            ]
        },
    }


def _title(beating: Sequence[Pair]) -> str:
    match beating:
        case []:
            return "No two periods beat"
        case [pair]:
            return f"The periods of {pair.first} and {pair.second} beat"
        case _:
            return f"{counted(len(beating), 'pair')} of periods beat"
