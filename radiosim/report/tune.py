"""`radiosim tune` as a report: what to take and why, where the link breaks, what matters."""

from collections.abc import Iterator, Sequence
from typing import Any

from radiosim.radio.band import power_caution
from radiosim.report.figures import influence, pareto_front, periods
from radiosim.report.tune_map import no_map_texts
from radiosim.report.tune_sentences import (
    change_text,
    confirmation_sentence,
    cost_text,
    done_text,
    guard_sentences,
    kept_sentences,
    left_out_sentences,
    pair_sentence,
    setting_text,
    stands_sentences,
    tie_sentences,
    value_text,
    verdict_text,
    warnings,
)
from radiosim.results.data import Record, record_of, record_table
from radiosim.results.document import Column, Origin, Report, Section, Sentence, Table
from radiosim.results.formats import duration_text, fmt_percent, fmt_sig3, list_text
from radiosim.safety import STILL
from radiosim.study.tune.period_pairs import Pair
from radiosim.study.tune.rank import Aim
from radiosim.study.tune.tune_results import Tried, Tuned
from radiosim.study.tune.varied import Setting, Value, Values

CAUTION = (
    f"Try the settings on the bench, {STILL}, and let the transmitters run for longer than their "
    "clocks take to beat."
)
MOST_OF_FRONT = 12
UNITS = ("ms", "us", "s", "hz", "ppm", "dbm", "db", "mhz", "m")
POINTS_NOTE = (
    "Margin: what is left to the nearest limit, as a share of it; below 0: missed. Age: of the "
    "values in use, the wait for the next sample included, of the stream with the oldest in its "
    "worst start. Duty cycle: all transmitters together."
)


def tune_report(found: Tuned, origin: Origin) -> Report:
    """The recommendation first; files hold every point."""
    return Report(
        title=found.title or found.scenario or "A scenario without a title",
        subject="Settings tried on a simulated radio control link",
        done=done_text(found),
        verdict=verdict_text(found),
        is_well=None if found.ok and found.cautions else found.ok,
        warnings=warnings(found),
        sections=tuple(_sections(found)),
        tables=tuple(_files(found)),
        cautions=(CAUTION, *_of_power(found)),
        data=found,
        origin=origin,
    )


def _of_power(found: Tuned) -> Iterator[str]:
    """The caution of power, where some points send with another than the scenario's."""
    if any(setting.key.endswith("power_dbm") for setting in found.settings):
        caution = power_caution()
        yield f"{caution[0].upper()}{caution[1:]}."


def _sections(found: Tuned) -> Iterator[Section]:
    yield _recommended(found)
    yield Section(heading="As it stands", sentences=stands_sentences(found))
    if found.assumed:
        yield Section(
            heading="Required, because the scenario asks for nothing",
            sentences=(
                *(Sentence(text=f"{text}.", form="item") for text in found.assumed),
                *left_out_sentences(found),
            ),
        )
    if found.runners_up:
        yield Section(heading="Next best", tables=(_points("next_best", found, found.runners_up),))
    mapped = periods.figure(found)
    if mapped is not None:
        yield Section(heading=mapped.title, figures=(mapped,))
        yield Section(sentences=tuple(periods.letters_texts(found)), where="terminal")
    elif texts := tuple(no_map_texts(found)):
        yield Section(heading="Where the link breaks", sentences=texts)
    yield from _closed_forms(found)
    costs = pareto_front.figure(found)
    if costs is not None:
        points = _points("pareto_front", found, found.pareto_front[:MOST_OF_FRONT])
        yield Section(
            heading=costs.title,
            sentences=tuple(_more(len(found.pareto_front) - MOST_OF_FRONT)),
            figures=(costs,),
            tables=(points,),
        )
    yield _influence(found)


def _recommended(found: Tuned) -> Section:
    if found.recommended is None or found.best is None:
        return Section()
    why, changes = found.recommended.why, tuple(_changed(found))
    return Section(
        heading="Recommended settings",
        sentences=(
            *(
                Sentence(text=setting_text(setting, to), form="code")
                for setting, _, to, _ in changes
            ),
            *kept_sentences(found),
            f"{why[0].upper()}{why[1:]}.",
            *tie_sentences(found),
            *guard_sentences(found),
            *(confirmation_sentence(found, tried) for tried in found.confirmed),
            cost_text(found, found.best),
        ),
        tables=(_changes(found),) if changes else (),
        role="change",
    )


def changed_lines(found: Tuned) -> tuple[str, ...]:
    """What is recommended and is not so yet, as `--set` takes it."""
    if found.recommended is None:
        return ()
    return tuple(setting.line(to) for setting, _, to, _ in _changed(found))


def _changed(found: Tuned) -> Iterator[tuple[Setting, Value | None, Value, Tried]]:
    """Each setting that changes: what it is, what it becomes, and the point without it."""
    assert found.recommended is not None
    without = {change.key: found.at(change.without) for change in found.recommended.changes}
    for setting, now, to in zip(
        found.settings, found.as_it_stands.values, found.recommended.values, strict=True
    ):
        if setting.key in without and to is not None:
            yield setting, now, to, without[setting.key]


def _changes(found: Tuned) -> Table:
    """What each change is worth: what becomes of the point without it."""
    return Table(
        key="changes",
        caption="What each change is worth",
        columns=(
            Column(key="setting", title="setting", is_text=True),
            Column(key="now", title="now", show=value_text),
            Column(key="to", title="to", show=value_text),
            Column(key="without", title="with this one alone put back", is_text=True),
        ),
        rows=tuple(
            (setting.key.removeprefix("transmitter."), now, to, change_text(found, without))
            for setting, now, to, without in _changed(found)
        ),
        where="screen",
    )


def _more(count: int) -> Iterator[str]:
    if count > 0:
        yield f"{MOST_OF_FRONT} of them, and {count} more with --csv or --json."


def _points(key: str, found: Tuned, places: Sequence[Values]) -> Table:
    """Some points, their settings beside what they cost."""
    settings = (_setting_column(setting) for setting in found.settings)
    return Table(
        key=f"{key}_points",
        columns=(
            *settings,
            Column(
                key="margin",
                title="margin",
                unit="%",
                show=lambda share: f"{100 * share:.0f}",
                role=lambda share: "bad" if share < 0 else None,
            ),
            Column(key="age_mean_ms", title="age mean", show=duration_text, priority=1),
            Column(key="age_p99_ms", title="age p99", show=duration_text),
            Column(key="duty_cycle", title="duty cycle", show=fmt_percent),
            Column(key="charge_mah_per_hour", title="charge", unit="mAh/h", show=fmt_sig3),
            Column(key="notes", title="notes", is_text=True, nothing="", priority=1),
        ),
        rows=tuple(_row(found, found.at(values)) for values in places),
        note=POINTS_NOTE,
        where="screen",
    )


def _setting_column(setting: Setting) -> Column:
    """A key as a title that can wrap, and its unit."""
    words, _, unit = setting.key.removeprefix("transmitter.").rpartition("_")
    if unit not in UNITS:
        words, unit = setting.key.removeprefix("transmitter."), ""
    return Column(
        key=setting.key,
        title=words.replace(".", " ").replace("_", " "),
        unit=unit,
        show=value_text,
    )


def _row(found: Tuned, tried: Tried) -> tuple[Any, ...]:
    figures = tried.judged
    return (
        *tried.values,
        figures.margin,
        figures.age_mean_ms,
        figures.age_p99_ms,
        figures.duty_cycle,
        figures.charge_mah_per_hour,
        " · ".join(_notes(found, tried)) or None,
    )


def _notes(found: Tuned, tried: Tried) -> Iterator[str]:
    """What the margin of a point does not tell."""
    best = found.best
    aim = Aim(own=found.as_it_stands, prefer=found.prefer)
    if best is not None and tried.values != best.values and aim.is_alike(tried, best):
        yield "a tie"
    if tried.worse:
        yield f"{list_text(tuple(dict.fromkeys(of.stream for of in tried.worse)))} worse"
    if tried.beating:
        yield "clocks beat"


def _closed_forms(found: Tuned) -> Iterator[Section]:
    """What the periods say of the recommended settings, beside what was simulated."""
    figures = None if found.best is None else found.best.figures
    if figures is None or not figures.pairs:
        return
    yield Section(
        heading="What the periods say, beside what was simulated",
        sentences=tuple(map(pair_sentence, figures.pairs)),
        tables=(
            Table(
                key="clashes",
                caption="Frames that clash, at the recommended settings",
                columns=(
                    Column(key="stream", title="stream", is_text=True),
                    Column(key="predicted", title="closed form", show=fmt_percent),
                    Column(key="simulated", title="simulated", show=fmt_percent),
                ),
                rows=tuple(
                    (name, of.predicted_clash_share, of.clash_share)
                    for name, of in figures.stream.items()
                ),
                where="screen",
            ),
        ),
    )


def _influence(found: Tuned) -> Section:
    figure = influence.figure(found)
    if figure is None:
        why = found.influence_unknown
        return Section(heading="Which settings matter", sentences=(f"{why[0].upper()}{why[1:]}.",))
    shares = found.influence
    order = sorted(shares, key=lambda key: -shares[key].first_order)
    has_total = any(of.total is not None for of in shares.values())
    columns = [
        Column(key="setting", title="setting", is_text=True),
        Column(key="first_order", title="first-order", show=fmt_percent),
    ]
    columns += [Column(key="total", title="total", show=fmt_percent)] if has_total else []
    return Section(
        heading=figure.title,
        figures=(figure,),
        tables=(
            Table(
                key="shares",
                caption="Shares of the margin's variance",
                columns=tuple(columns),
                rows=tuple(
                    (key, shares[key].first_order, *((shares[key].total,) if has_total else ()))
                    for key in order
                ),
                note="First-order: what a setting explains by itself."
                + (" Total: by itself and together with others." if has_total else ""),
                where="screen",
                is_folded=True,
            ),
        ),
    )


def _files(found: Tuned) -> Iterator[Table]:
    """Every point, every pair of transmitters at every point, and every share."""
    keys = [setting.key for setting in found.settings]
    yield record_table(
        "points",
        [
            _record(keys, tried, "as it stands" if tried is found.as_it_stands else "")
            for tried in (found.as_it_stands, *found.points)
        ],
        first=("role", *keys, "ok", "margin"),
    )
    yield record_table(
        "pairs",
        [
            dict(zip(keys, tried.values, strict=True)) | _pair_record(pair)
            for tried in found.points
            if tried.figures is not None
            for pair in tried.figures.pairs
        ],
        first=(*keys, "first", "second"),
    )
    yield record_table(
        "influence",
        [{"setting": key, **_share_record(found, key)} for key in keys],
        first=("setting", "first_order", "total"),
    )


def _record(keys: Sequence[str], tried: Tried, role: str) -> Record:
    figures = tried.figures
    return {
        "role": role,
        **dict(zip(keys, tried.values, strict=True)),
        **({} if figures is None else record_of(figures, leave_out=("pairs", "measured"))),
        "clocks_beat": bool(tried.beating),
        "refused": tried.refused,
    }


def _pair_record(pair: Pair) -> Record:
    row = record_of(pair, leave_out=("clash_share", "acknowledgement_share"))
    for name in ("clash_share", "acknowledgement_share"):
        row[f"{name}.first"], row[f"{name}.second"] = getattr(pair, name)
    return row


def _share_record(found: Tuned, key: str) -> Record:
    of = found.influence.get(key)
    return {
        "first_order": None if of is None else of.first_order,
        "total": None if of is None else of.total,
    }
