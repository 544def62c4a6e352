"""What a tuning says in sentences: the verdict, what to set and why, and what the periods say."""

from collections.abc import Iterator

from radiosim.counted import counted
from radiosim.measure.summary import RequirementFigures
from radiosim.radio.air_frame import with_step
from radiosim.results.document import Sentence
from radiosim.results.formats import (
    duration_text,
    fmt_exact,
    fmt_percent,
    fmt_sig3,
    list_text,
)
from radiosim.study.tune.period_pairs import Pair
from radiosim.study.tune.tune_results import (
    NOTHING_JUDGED,
    Confirmed,
    Tried,
    Tuned,
    clocks_text,
)
from radiosim.study.tune.varied import Setting, Values


def done_text(found: Tuned) -> str:
    """How many points were tried, and how long each."""
    each = f"{counted(found.starts, 'start')} of {duration_text(1000 * found.duration_s)}"
    if found.narrow is not None:
        narrow = found.narrow
        each = f"up to {each}, until {narrow.figure} is known to {narrow.half_width:g} either way"
    return f"{counted(len(found.points), 'point')}, each {each}"


def verdict_text(found: Tuned) -> str:
    """What to take, and whether it holds."""
    if found.recommended is None:
        return f"Nothing to recommend: {NOTHING_JUDGED}."
    lines = _named_values(found, found.recommended.values)
    if found.best is None or not found.best.ok:
        return f"No point holds every requirement; the least bad: {lines}."
    if not found.ok:
        return f"NOT CONFIRMED over the whole scenario: {lines}."
    if found.recommended.beating:
        return f"Holds only while clocks do not beat: {lines}."
    own = "Stay with" if found.recommended.is_own else "Take"
    return f"{own} {lines}: every requirement holds."


def _named_values(found: Tuned, values: Values) -> str:
    return ", ".join(
        f"{_short_key(setting.key)} {_value_text(value)}"
        for setting, value in zip(found.settings, values, strict=True)
    )


def values_text(values: Values) -> str:
    """Values of a point; a dash for what the scenario has no number for."""
    return ", ".join(map(_value_text, values))


def _value_text(value: float | None) -> str:
    return "-" if value is None else fmt_exact(value)


def _short_key(key: str) -> str:
    return key.removeprefix("transmitter.")


def setting_text(setting: Setting, value: float | None) -> str:
    """A setting as an option to paste; what has no number stays as it is."""
    if value is None:
        return f"# keep {setting.key} as it is"
    step = with_step(value) if setting.key.endswith(".retry_delay_us") else ""
    return f"--set {setting.line(value)}{f'  # {step}' if step else ''}"


def warnings(found: Tuned) -> tuple[Sentence, ...]:
    """What whoever takes the recommended settings must know."""
    return tuple(_warnings(found))


def _warnings(found: Tuned) -> Iterator[Sentence]:
    if found.recommended is None:
        return
    if found.recommended.beating:
        clocks = clocks_text(found.recommended.beating)
        yield Sentence(text=f"{clocks[0].upper()}{clocks[1:]} BEAT, sooner or later.", role="bad")
    for text in found.recommended.warnings:
        yield Sentence(text=f"New with these settings: {text}.", role="warn")


def cost_text(tried: Tried) -> str:
    """What a point costs that is not refused."""
    figures = tried.judged
    known = figures.charge_mah_per_hour
    charge = "charge not known" if known is None else f"charge {fmt_sig3(known)} mAh/h"
    return (
        f"Latency p99 of the slowest stream {duration_text(figures.latency_p99_ms)}, duty cycle "
        f"{fmt_percent(figures.duty_cycle)}, {charge}."
    )


def stands_sentences(found: Tuned) -> tuple[str | Sentence, ...]:
    """The scenario's own values of what was varied, what becomes of it with them, and its cost.

    Of a scenario that is refused, only why.
    """
    tried = found.as_it_stands
    if tried.figures is None:
        return (Sentence(text=f"Refused: {tried.refused}", role="bad"),)
    nearest = tried.figures.nearest
    figure = f"{nearest} is {fmt_sig3(tried.figures.measured[nearest])}"
    if tried.ok:
        text = f"Every requirement holds here; nearest to its limit: {figure}, "
        text += f"{100 * tried.figures.margin:.0f} % to spare."
    else:
        text = f"Misses a requirement: {figure}. Cause: {tried.figures.cause}."
    if tried.beating:
        pairs = tuple((pair.first, pair.second) for pair in tried.beating)
        distances = ", ".join(f"{pair.distance_ms:.3g}" for pair in tried.beating)
        windows = ", ".join(f"{pair.window_ms:.3g}" for pair in tried.beating)
        clocks = clocks_text(pairs)
        text += (
            f" {clocks[0].upper()}{clocks[1:]} BEAT: their periods are {distances} ms from a "
            f"multiple, within {windows} ms."
        )
    is_sound = tried.ok and not tried.beating
    values = f"{_named_values(found, tried.values)}."
    return (values, text if is_sound else Sentence(text=text, role="bad"), cost_text(tried))


def confirmation_sentence(found: Tuned, tried: Confirmed) -> str | Sentence:
    """What the whole scenario made of a point."""
    assert found.recommended is not None
    length = duration_text(1000 * tried.duration_s)
    whole = f"the whole scenario, {counted(tried.starts, 'start')} of {length}"
    if tried.values != found.recommended.values:
        point = values_text(tried.values)
        return f"Passed over: {point}, which over {whole} misses {_missed(tried)}."
    if tried.ok is None:
        return Sentence(text=f"Not confirmed: over {whole}, {_unjudged(tried)}.", role="warn")
    if not tried.ok:
        return Sentence(text=f"NOT confirmed: over {whole} it misses {_missed(tried)}.", role="bad")
    if not tried.is_new:
        return (
            f"Not tried on anything new: {whole}, is no more than it was chosen on; every "
            "requirement holds there."
        )
    return f"Confirmed: over {whole}, every requirement holds."


def _missed(tried: Confirmed) -> str:
    return list_text(tuple(_measured(one) for one in tried.requirements if one.ok is False))


def _unjudged(tried: Confirmed) -> str:
    first = next(one for one in tried.requirements if one.ok is None)
    return f"{first.figure} could not be judged: {first.why}"


def _measured(requirement: RequirementFigures) -> str:
    wanted = (
        f"at least {requirement.at_least:g}"
        if requirement.at_least is not None
        else f"at most {requirement.at_most:g}"
    )
    return f"{requirement.figure} ({fmt_sig3(requirement.measured)}, {wanted})"


def pair_sentence(pair: Pair) -> Sentence:
    """What the periods of two transmitters say before anything is simulated."""
    names = f"{pair.first}, {pair.second}"
    distance, window = f"{pair.distance_ms:.3g}", f"{pair.window_ms:.3g}"
    if not pair.is_beating:
        text = f"lose single frames: {distance} ms from a multiple, {window} would be near"
        return Sentence(lead=names, text=text)
    if pair.every_s is None or pair.burst_frames is None:
        often = "once frames meet, for good"
    else:
        every = duration_text(1000 * pair.every_s)
        often = f"{pair.burst_frames:.0f} frames in a row or more, as often as every {every}"
    text = f"BEAT: {distance} ms from a multiple, within {window}; {often}"
    return Sentence(lead=names, text=text, role="warn")
