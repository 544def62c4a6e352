"""The page of a tuning: what to take and why, where the link breaks, what matters."""

import math
from collections.abc import Iterator, Sequence

from radiosim.report.figures import front, influence, periods
from radiosim.report.page.parts import Page, PageTable, Section
from radiosim.report.terminal.words import NOTHING, digits, limit, printable, share
from radiosim.report.tune.words import (
    CAUTION,
    confirmation_text,
    head_text,
    price_text,
    said_of,
    short_key,
    stands_text,
    values_text,
    warning_texts,
)
from radiosim.scenario import Scenario
from radiosim.study.tune.rank import Tried
from radiosim.study.tune.tuned import Tuned
from radiosim.version import VERSION

MOST_OF_FRONT = 12
NO_BREAK = "\N{NO-BREAK SPACE}"


def page_of_tune(
    found: Tuned, scenario: Scenario, *, source: str, scenario_text: str, command: str
) -> Page:
    """The whole page."""
    return Page(
        title=scenario.title or found.scenario or "A scenario without a title",
        what=f"Settings tried on a simulated radio control link: {head_text(found)}",
        verdict=_verdict(found),
        is_well=found.ok,
        cautions=(*(f"{text[0].upper()}{text[1:]}." for text in found.cautions), CAUTION),
        sections=tuple(_sections(found)),
        scenario_name=source,
        scenario_text=scenario_text,
        command=command,
        seed=scenario.seed,
        version=VERSION,
    )


def _verdict(found: Tuned) -> str:
    if found.best is None:
        return f"Nothing to recommend: {found.why}."
    lines = ", ".join(
        f"{short_key(setting.key)} {values_text([value])}"
        for setting, value in zip(found.settings, found.best.values, strict=True)
    )
    if found.ok and not found.best.is_near:
        return f"Take {lines}: every requirement holds, with room."
    return f"Least bad: {lines}. Read the cautions."


def _sections(found: Tuned) -> Iterator[Section]:
    yield _recommended(found)
    yield Section(heading="As it stands", prose=stands_text(found))
    if found.assumed:
        yield Section(
            heading="Required, because the scenario asks for nothing",
            prose=tuple(f"{printable(text)}." for text in found.assumed),
        )
    mapped = periods.periods_data(found)
    if mapped is not None:
        figure = periods.draw(mapped)
        yield Section(heading=figure.title, figure=figure)
    yield from _closed_forms(found)
    costs = front.front_data(found)
    if costs is not None:
        figure = front.draw(costs)
        table = _table(
            "Least delay, air time or charge among those that hold",
            found,
            found.front[:MOST_OF_FRONT],
        )
        yield Section(heading=figure.title, figure=figure, tables=(table,))
    shares = influence.influence_data(found)
    if shares is not None:
        figure = influence.draw(shares)
        yield Section(heading=figure.title, figure=figure)
    else:
        yield Section(
            heading="Which settings matter",
            prose=(f"{found.influence_unknown[0].upper()}{found.influence_unknown[1:]}.",),
        )


def _recommended(found: Tuned) -> Section:
    if found.best is None:
        return Section(heading="Recommended: none", prose=(f"{printable(found.why)}.",))
    rows = tuple(
        (
            setting.key,
            "as it stands"
            if math.isnan(value)
            else (said_of(setting.key, value) or limit(value)).replace(" ", NO_BREAK),
        )
        for setting, value in zip(found.settings, found.best.values, strict=True)
    )
    settings = PageTable(
        caption="Recommended settings", columns=("key", "value"), rows=rows, words=(1,)
    )
    others = (_table("Next best", found, found.runners_up),) if found.runners_up else ()
    why = f"{printable(found.why[0].upper() + found.why[1:])}."
    return Section(
        heading="Recommended",
        prose=(
            why,
            *(confirmation_text(found, it)[1] for it in found.confirmed),
            price_text(found.best),
            *warning_texts(found),
        ),
        tables=(settings, *others),
    )


def _table(caption: str, found: Tuned, points: Sequence[Tried]) -> PageTable:
    rows = tuple(
        (
            *(NOTHING if math.isnan(value) else limit(value) for value in it.values),
            NOTHING if it.margin is None else f"{100 * it.margin:.0f}",
            digits(it.row["latency_p99_ms"]),
            f"{100 * it.row['duty_cycle']:.3g}",
            digits(it.row["charge_mah_per_hour"]),
            "beat" if it.is_near else "",
        )
        for it in points
    )
    # Blanks, at which a title wraps: six keys fit beside their costs.
    keys = tuple(printable(short_key(it.key)).replace(".", " ") for it in found.settings)
    costs = ("margin, %", "delay, ms", "air, %", "charge, mAh/h", "clocks")
    return PageTable(
        caption=caption,
        columns=(*keys, *costs),
        rows=rows,
        words=(len(keys) + len(costs) - 1,),
        note="Margin: what is left to the nearest limit, as a share of it. Delay: 99 of 100 values "
        "of the slowest stream are no later.",
    )


def _closed_forms(found: Tuned) -> Iterator[Section]:
    best = found.best
    if best is None or not best.row["pairs"]:
        return
    table = PageTable(
        caption="Frames that clash, at the recommended settings",
        columns=("stream", "closed form", "simulated"),
        rows=tuple(
            (name, share(it["predicted_clash_share"]), share(it["clash_share"]))
            for name, it in best.row["streams"].items()
        ),
    )
    yield Section(heading="What the periods say, beside what was simulated", tables=(table,))
