"""`radiosim fit` as a report: what held, what explains what did not, and what is not measured."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from shlex import quote

from radiosim.counted import counted
from radiosim.results.document import Column, Origin, Report, Role, Section, Sentence, Table
from radiosim.study.fit.fit import Fit
from radiosim.study.fit.judged import Judged

HELD, NOT_HELD = "held", "NOT HELD"


def fit_report(fit: Fit, origin: Origin) -> Report:
    """Measured beside predicted, and why where it did not hold."""
    missed = [row for row in fit.figures if not row.is_held]
    return Report(
        title=f"Bench log: {fit.title}",
        subject="What a log of the bench says of a scenario",
        done=(
            f"{fit.seconds:.1f} s of {counted(len(fit.logs), 'log')} beside {fit.starts:,} "
            "simulated logs"
        ),
        verdict=_verdict(fit, missed),
        is_well=fit.ok,
        warnings=fit.warnings,
        sections=(
            Section(
                heading="Measured beside predicted",
                tables=(_figures(fit.figures, "figures"),),
                sentences=(
                    "Predicted: 95 % of simulated logs without faults lie in it, one by one. "
                    f"{NOT_HELD}: farther out than chance explains, one false alarm in twenty "
                    "logs over all rows together.",
                ),
            ),
            *_pictures(fit),
            *((_why(fit),) if missed else ()),
            *((_again(fit),) if fit.again is not None else ()),
            *((_told(fit),) if fit.told else ()),
            Section(heading="The logs", tables=(_logs(fit),), sentences=tuple(_notes(fit))),
            Section(
                heading="Not measured",
                sentences=tuple(
                    Sentence(text=f"{one.what}: {one.log}.", form="item")
                    for one in fit.not_measured
                ),
            ),
        ),
        data=fit,
        origin=origin,
    )


def _pictures(fit: Fit) -> Iterator[Section]:
    from radiosim.report.figures.bench_log import figures_of_log  # noqa: PLC0415 - draws

    for picture in figures_of_log(fit):
        yield Section(heading=picture.title, figures=(picture,), where="page")


def _verdict(fit: Fit, missed: list[Judged]) -> str:
    if not missed:
        return f"All {counted(len(fit.figures), 'figure')} held: the log is as was predicted."
    names = ", ".join(f"{row.what} of {row.of}" for row in missed)
    return f"{NOT_HELD}: {names}."


def _rounded(row: Judged, value: float | None) -> float | None:
    """A value to what the log tells apart."""
    if value is None:
        return None
    return float(Decimal(f"{value:.12g}").quantize(Decimal(str(row.resolution))))


def _role(text: str | None) -> Role | None:
    return "bad" if text == NOT_HELD else None


def _figures(figures: Sequence[Judged], key: str) -> Table:
    return Table(
        key=key,
        columns=(
            Column(key="of", title="of", is_text=True),
            Column(key="what", title="figure", is_text=True),
            Column(key="measured", title="measured", show="{:.10g}".format),
            Column(key="low", title="predicted from", show="{:.10g}".format),
            Column(key="high", title="to", show="{:.10g}".format),
            Column(key="unit", title="unit", is_text=True),
            Column(key="verdict", title="verdict", is_text=True, role=_role),
            Column(key="measured_low", where="data"),
            Column(key="measured_high", where="data"),
            Column(key="chance", where="data"),
            Column(key="key", where="data"),
        ),
        rows=tuple(
            (
                row.of,
                row.what,
                *(_rounded(row, value) for value in (row.measured, row.low, row.high)),
                row.unit,
                HELD if row.is_held else NOT_HELD,
                *(row.measured_low, row.measured_high, row.chance, row.key),
            )
            for row in figures
        ),
    )


def _why(fit: Fit) -> Section:
    names = {row.key: f"{row.what} of {row.of}" for row in fit.figures}
    told: list[Sentence | str] = []
    for one in fit.explanations:
        parts = [f"explains {', '.join(names[key] for key in one.explains)}"]
        if one.breaks:
            parts.append(f"does not agree with {', '.join(names[key] for key in one.breaks)}")
        told.append(f"Measured: {one.setting.measured}; {'; '.join(parts)}.")
        told += [Sentence(text=f"--set {quote(line)}", form="code") for line in one.setting.lines]
    if fit.settings:
        left = ", ".join(names[key] for key in fit.still_out)
        lines = ", ".join(line for one in fit.settings for line in one.lines)
        told.append(
            f"With {lines}: {f'all but {left} agree' if left else 'every figure agrees'}, on the "
            "log that they come from"
            f"{'.' if fit.again is not None else ': log another run to see whether they hold.'}"
        )
    if fit.unexplained:
        left = ", ".join(names[key] for key in fit.unexplained)
        told.append(f"No setting that was tried explains {left}.")
    return Section(heading="What explains it, each tried alone", sentences=tuple(told))


def _again(fit: Fit) -> Section:
    """The second half of the log beside the scenario as the first half has it."""
    again = fit.again
    assert again is not None
    missed = [row for row in again.figures if not row.is_held]
    names = ", ".join(f"{row.what} of {row.of}" for row in missed)
    return Section(
        heading="Judged again on time held back",
        tables=(_figures(again.figures, "again"),),
        sentences=(
            f"Fitted to the first half of the log alone: {', '.join(again.lines)}. Its second "
            f"half, {again.seconds:.1f} s, beside simulated logs with that: "
            f"{f'{NOT_HELD}: {names}' if missed else 'every figure held'}.",
        ),
    )


def _told(fit: Fit) -> Section:
    return Section(
        heading="From the log alone",
        tables=(
            Table(
                key="told",
                columns=(
                    Column(key="of", title="of", is_text=True),
                    Column(key="what", title="what", is_text=True),
                    Column(key="value", title="measured"),
                    Column(key="low", title="from"),
                    Column(key="high", title="to"),
                    Column(key="unit", title="unit", is_text=True),
                    Column(key="how", title="how", is_text=True, priority=1),
                ),
                rows=tuple(
                    (one.of, one.what, one.value, one.low, one.high, one.unit, one.how)
                    for one in fit.told
                ),
            ),
        ),
    )


def _logs(fit: Fit) -> Table:
    return Table(
        key="logs",
        columns=(
            Column(key="unit", title="unit", is_text=True),
            Column(key="source", title="file", is_text=True),
            Column(key="records", title="records", show="{:,}".format),
            Column(key="lives", title="parts", show="{:,}".format),
            Column(key="lost", title="lost", show="{:,}".format),
        ),
        rows=tuple((log.unit, log.source, log.records, log.lives, log.lost) for log in fit.logs),
    )


def _notes(fit: Fit) -> Iterator[str]:
    for log in fit.logs:
        for note in log.notes:
            yield f"{log.source}: {note}."
    if any(log.lives > 1 for log in fit.logs):
        yield "Of several parts, from reset to reset, the longest is judged."
