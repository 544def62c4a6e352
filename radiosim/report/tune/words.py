"""What a tuning says in sentences, on the terminal and on its page alike."""

import math
from collections.abc import Sequence

from radiosim.counted import counted
from radiosim.measure.summary import RequirementFigures
from radiosim.radio.air_frame import with_step
from radiosim.report.terminal.words import digits, listed, printable, share, span
from radiosim.study.tune.rank import Tried, beating_clocks
from radiosim.study.tune.tuned import Confirmed, Tuned

CAUTION = (
    "A simulation is not proof: try the settings on the bench, wheels off the ground and "
    "propellers off, and let both transmitters run for longer than their clocks take to meet. "
    "Check "
    "your local radio rules."
)


def head_text(found: Tuned) -> str:
    """The scenario, how many points were tried, and how long each."""
    each = f"{counted(found.starts, 'start')} of {span(found.duration_s)}"
    if found.narrow is not None:
        figure = printable(found.narrow.figure)
        each = f"up to {each}, until {figure} is known to {found.narrow.half_width:g} either way"
    return f"{printable(found.scenario)}: {counted(len(found.points), 'point')}, each {each}"


def values_text(values: Sequence[float]) -> str:
    """Values of a point; a dash for what the scenario has no number for."""
    return ", ".join("-" if math.isnan(value) else f"{value:g}" for value in values)


def short_key(key: str) -> str:
    """A key without what all have in common."""
    return (
        key.removeprefix("transmitter.").replace("retry_", "").replace("_ms", "").replace("_us", "")
    )


def said_of(key: str, value: float) -> str:
    """What a value of a key is called besides; empty for most."""
    return with_step(value) if key.endswith(".retry_delay_us") else ""


def price_text(it: Tried) -> str:
    """What a point costs that is not refused."""
    row = it.row
    return (
        f"Delay p99 (slowest stream) {digits(row['latency_p99_ms'])} ms, air time "
        f"{share(row['duty_cycle'])}, charge {digits(row['charge_mah_per_hour'])} mAh/h."
    )


def warning_texts(found: Tuned) -> tuple[str, ...]:
    """What the recommended settings bring that the scenario as it stands has not."""
    return tuple(f"New with these settings: {printable(text)}." for text in found.warnings)


def stands_text(found: Tuned) -> tuple[str, ...]:
    """The scenario's own values of what was varied, what becomes of it with them, and its price.

    Of a scenario that is refused, only why.
    """
    it = found.as_it_stands
    if it.margin is None:
        return (f"Refused: {printable(it.row['refused'])}",)
    nearest = it.row["nearest"]
    figure = f"{printable(nearest)} is {digits(it.row['measured'][nearest])}"
    if it.ok:
        text = f"Every requirement holds here; nearest to its limit: {figure}, "
        text += f"{100 * it.margin:.0f} % to spare."
    else:
        text = f"Misses a requirement: {figure}. Cause: {it.row['cause']}."
    if it.is_near:
        distances = ", ".join(f"{pair['distance_ms']:.3g}" for pair in it.near)
        windows = ", ".join(f"{pair['window_ms']:.3g}" for pair in it.near)
        clocks = printable(beating_clocks(it))
        text += (
            f" {clocks[0].upper()}{clocks[1:]} BEAT: their periods are {distances} ms from a "
            f"multiple, within {windows} ms."
        )
    values = ", ".join(
        f"{short_key(setting.key)} {values_text([value])}"
        for setting, value in zip(found.settings, it.values, strict=True)
    )
    return printable(values), text, price_text(it)


def confirmation_text(found: Tuned, it: Confirmed) -> tuple[str, str]:
    """What the whole scenario made of a point, with a mark before it where it warns."""
    assert found.best is not None
    whole = f"the whole scenario, {counted(it.starts, 'start')} of {span(it.duration_s)}"
    if it.values != found.best.values:
        point = values_text(it.values)
        return "  ", f"Passed over: {point}, which over {whole} misses {_missed(it)}."
    if it.ok is None:
        return "! ", f"Not confirmed: over {whole}, {_unjudged(it)}."
    if not it.ok:
        return "! ", f"NOT confirmed: over {whole} it misses {_missed(it)}."
    if not it.is_new:
        return "  ", (
            f"Not tried on anything new: {whole}, is no more than it was chosen on; every "
            "requirement holds there."
        )
    return "  ", f"Confirmed: over {whole}, every requirement holds."


def _missed(it: Confirmed) -> str:
    return listed(tuple(_measured(one) for one in it.requirements if one.ok is False))


def _unjudged(it: Confirmed) -> str:
    first = next(one for one in it.requirements if one.ok is None)
    return f"{printable(first.figure)} could not be judged: {printable(first.why)}"


def _measured(it: RequirementFigures) -> str:
    wanted = f"at least {it.at_least:g}" if it.at_least is not None else f"at most {it.at_most:g}"
    return f"{printable(it.figure)} ({digits(it.measured)}, {wanted})"
