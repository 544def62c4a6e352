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
    Worse,
    clocks_text,
)
from radiosim.study.tune.varied import Setting, Value, Values


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
    lines = _named_changes(found)
    is_ok = found.best is not None and found.best.ok
    text = f"Take {lines}: every requirement holds."
    if not is_ok and found.ok:
        text = f"Holds over the whole scenario, not in the shorter starts tried: {lines}."
    elif not is_ok:
        text = f"No point holds every requirement; the least bad: {lines}."
    elif not found.ok:
        text = f"NOT CONFIRMED over the whole scenario: {lines}."
    elif found.recommended.beating:
        text = f"Holds only while clocks do not beat: {lines}."
    elif found.recommended.worse:
        streams = list_text(tuple(dict.fromkeys(of.stream for of in found.recommended.worse)))
        text = f"Holds, but makes {streams} worse: {lines}."
    elif found.recommended.is_own:
        text = "Change nothing: every requirement holds as it stands."
    return text


def _named_changes(found: Tuned) -> str:
    """The settings that change, with their values."""
    assert found.recommended is not None
    changed = {change.key for change in found.recommended.changes}
    values = zip(found.settings, found.recommended.values, strict=True)
    named = [
        f"{_short_key(setting.key)} {value_text(value)}"
        for setting, value in values
        if setting.key in changed
    ]
    return ", ".join(named) or "the scenario as it stands"


def _named_values(found: Tuned, values: Values) -> str:
    return ", ".join(
        f"{_short_key(setting.key)} {value_text(value)}"
        for setting, value in zip(found.settings, values, strict=True)
    )


def value_text(value: Value | None) -> str:
    """A value of a setting; a dash for what the scenario does not say."""
    return "-" if value is None else value if isinstance(value, str) else fmt_exact(value)


def _short_key(key: str) -> str:
    return key.removeprefix("transmitter.")


def setting_text(setting: Setting, value: Value) -> str:
    """A setting as an option to paste."""
    is_delay = setting.key.endswith(".retry_delay_us") and not isinstance(value, str)
    step = with_step(float(value)) if is_delay else ""
    return f"--set {setting.line(value)}{f'  # {step}' if step else ''}"


def kept_sentences(found: Tuned) -> Iterator[str]:
    """Which settings stay as they are, and why."""
    assert found.recommended is not None
    changed = {change.key for change in found.recommended.changes}
    kept = [setting.key for setting in found.settings if setting.key not in changed]
    if kept and changed:
        names = list_text(tuple(map(_short_key, kept)))
        yield f"All else stays as it is: {names}."


def change_text(found: Tuned, without: Tried) -> str:
    """What is lost if one setting alone is put back to what it is."""
    assert found.best is not None
    if without.figures is None:
        return f"refused: {without.refused}"
    said = [f"margin {100 * without.figures.margin:.0f} %"]
    if without.figures.missed:
        said.append(f"misses {counted(without.figures.missed, 'requirement')}")
    if without.beating and not found.best.beating:
        said.append("clocks beat")
    if without.worse and not found.best.worse:
        streams = tuple(dict.fromkeys(of.stream for of in without.worse))
        said.append(f"{list_text(streams)} worse")
    for name in found.prefer:
        age_ms = without.figures.worst.get(f"stream.{name}.age_ms.p99")
        said.append(f"{name} age p99 {duration_text(age_ms)}")
    return ", ".join(said)


def tie_sentences(found: Tuned) -> Iterator[str]:
    """That other points are as good, if some are."""
    assert found.recommended is not None
    if found.recommended.ties:
        many = counted(found.recommended.ties, "other point")
        are = "is" if found.recommended.ties == 1 else "are"
        yield (
            f"A TIE: {many} {are} as good, to 1 %. This one leaves as it is whatever makes no "
            "difference."
        )


def guard_sentences(found: Tuned) -> Iterator[str | Sentence]:
    """Which streams were kept from becoming worse, and what became worse for others."""
    assert found.recommended is not None
    worse, in_return = found.recommended.worse, found.recommended.in_return
    if found.prefer:
        comes = "comes" if len(found.prefer) == 1 else "come"
        yield f"{list_text(found.prefer)} {comes} first, as asked."
    if in_return:
        yield Sentence(text=f"Worse in return: {_worse_text(in_return)}.", role="warn")
    if found.guarded and not worse:
        names = list_text(found.guarded)
        is_one = len(found.guarded) == 1
        have, they, are = ("has", "it", "is") if is_one else ("have", "they", "are")
        yield (
            f"{names} {have} no requirement on how often values come: {they} {are} no worse here "
            "than as it stands."
        )


def _worse_text(worse: tuple[Worse, ...]) -> str:
    return list_text(
        tuple(
            f"{of.figure} {fmt_sig3(of.now)} to "
            f"{'nothing measured' if of.here is None else fmt_sig3(of.here)}"
            f"{' in the worst start' if of.is_in_worst_start else ''}"
            for of in worse
        )
    )


def warnings(found: Tuned) -> tuple[Sentence, ...]:
    """What whoever takes the recommended settings must know."""
    return tuple(_warnings(found))


def _warnings(found: Tuned) -> Iterator[Sentence]:
    start = f"A start of {duration_text(1000 * found.duration_s)} is too short for"
    for text in found.too_short:
        yield Sentence(text=f"{start} {text}.", role="warn")
    if found.judged_later:
        figures = list_text(found.judged_later)
        text = f"{start} a requirement on {figures}: no point was judged by it."
        yield Sentence(text=text, role="warn")
    if found.recommended is None:
        return
    if found.recommended.beating:
        clocks = clocks_text(found.recommended.beating)
        yield Sentence(text=f"{clocks[0].upper()}{clocks[1:]} BEAT, sooner or later.", role="bad")
    if found.recommended.worse:
        yield Sentence(text=_made_worse(found, found.recommended.worse), role="bad")
    for text in found.recommended.warnings:
        yield Sentence(text=f"New with these settings: {text}.", role="warn")


def _made_worse(found: Tuned, worse: tuple[Worse, ...]) -> str:
    """What becomes worse with the recommended settings, and that nothing does without."""
    assert found.best is not None
    if not found.best.worse:
        why = (
            "over the whole scenario; whatever else was tried there misses a requirement or makes "
            "something worse too"
        )
    elif not found.best.ok:
        why = "no point that misses as little does without"
    else:
        why = "no point that holds every requirement does without"
        why += "" if found.best.beating else " or without clocks that beat"
    return f"Made WORSE: {_worse_text(worse)}: {why}."


def cost_text(found: Tuned, tried: Tried) -> str:
    """What a point costs that is not refused, and what of its age the scenario's faults make."""
    figures = tried.judged
    known = figures.charge_mah_per_hour
    charge = "charge not known" if known is None else f"charge {fmt_sig3(known)} mAh/h"
    return (
        f"Age of the values in use, of the stream with the oldest in its worst start: mean "
        f"{duration_text(figures.age_mean_ms)}, p99 {duration_text(figures.age_p99_ms)}"
        f"{_without_faults(found, tried)}. Duty cycle {fmt_percent(figures.duty_cycle)}, {charge}."
    )


def _without_faults(found: Tuned, tried: Tried) -> str:
    """The same ages without the scenario's own faults; nothing where they are the same."""
    figures = tried.judged
    said = duration_text(figures.age_mean_ms), duration_text(figures.age_p99_ms)
    for calm in found.without_faults:
        mean, p99 = duration_text(calm.age_mean_ms), duration_text(calm.age_p99_ms)
        if calm.values == tried.values and (mean, p99) != said:
            return f" (scripted faults included; without them mean {mean}, p99 {p99})"
    return ""


def left_out_sentences(found: Tuned) -> Iterator[str]:
    """Which faults the requirements that were taken are judged without, and what to do."""
    if found.faults_left_out:
        its = "its own fault" if len(found.faults_left_out) == 1 else "its own faults"
        yield (
            f"Judged as if the scenario were without {its} ({'; '.join(found.faults_left_out)}): "
            "no gap can be held while one lasts. Requirements of your own are judged with them."
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
    return (values, text if is_sound else Sentence(text=text, role="bad"), cost_text(found, tried))


def confirmation_sentence(found: Tuned, tried: Confirmed) -> str | Sentence:
    """What the whole scenario made of a point."""
    assert found.recommended is not None
    length = duration_text(1000 * tried.duration_s)
    # What is judged over the whole alone is judged with its faults.
    calm = " without its faults" if found.faults_left_out and not found.judged_later else ""
    whole = f"the whole scenario{calm}, {counted(tried.starts, 'start')} of {length}"
    if tried.values != found.recommended.values:
        point = _named_values(found, tried.values)
        did = f"misses {_missed(tried)}" if tried.ok is False else ""
        did = did or f"makes worse: {_worse_text(tried.worse)}"
        return f"Passed over: {point}, which over {whole} {did}."
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
    if not pair.is_beating and pair.distance_ms < pair.window_ms and not pair.has_grid:
        text = f"do not beat: dither scatters them, {distance} ms from a multiple"
        return Sentence(lead=names, text=text)
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
