"""Figure: what pointing feels like; where the hand or head points, and where the servos stand."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from radiosim.report.figures.canvas import BAD, SERIES, Canvas, figure
from radiosim.report.figures.looks import short_names
from radiosim.results.document import Figure
from radiosim.results.formats import fmt_sig3
from radiosim.trace import Table, Trace
from radiosim.vehicle.vehicle import VehicleRecord

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SPAN_S = 6.0
_WHOLE = 0.95
"""Part of that from which on a picture is of so long a span."""
MOST_SHOWN = 4
"""Of servos, those that are furthest off; the text tells of all."""
ROW_PX, FOOT_PX = 210, 70

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ServoPointing:
    """One servo over some seconds, pulse by pulse; None where nothing is known."""

    output: str
    at_s: tuple[float, ...]
    wanted_deg: tuple[float | None, ...]
    servo_deg: tuple[float | None, ...]
    lost_s: tuple[tuple[float, float], ...]
    """Spans in which it does not follow the hand, as in failsafe or without pulses."""
    most_deg: float
    """Largest error while it follows the hand, in this span."""
    median_deg: float
    """Median of the same."""
    break_deg: float
    """Largest error in the whole start; higher than `most_deg` only near a break."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PointingData:
    """The servos that follow a hand, the one that is furthest off first."""

    start: int
    servos: tuple[ServoPointing, ...]


def pointing_data(trace: Trace, vehicle: VehicleRecord) -> PointingData | None:
    """The seconds in which each servo lags most; None if none follows a hand."""
    found = [
        _servo(name, vehicle.outputs[name].effects, trace.duration_ns / 1e9)
        for name, output in trace.scenario.output.items()
        if output.servo is not None
    ]
    servos = sorted(
        (servo for servo in found if servo is not None), key=lambda servo: -servo.most_deg
    )
    return PointingData(start=trace.start, servos=tuple(servos)) if servos else None


def _servo(name: str, effects: Table, until_s: float) -> ServoPointing | None:
    if not len(effects):
        return None
    at_s, wanted, angle, is_live = _with_breaks(effects)
    errors = np.abs(wanted - angle)
    errors = np.where(is_live & ~np.isnan(errors), errors, -1.0)
    if errors.max() < 0:
        return None
    low = max(0.0, min(_busiest_s(at_s, errors), until_s - SPAN_S))
    is_in = (at_s >= low) & (at_s <= low + SPAN_S)
    known = errors[is_in & (errors >= 0)]
    return ServoPointing(
        output=name,
        at_s=tuple(round(float(value), 4) for value in at_s[is_in]),
        wanted_deg=tuple(map(_known, wanted[is_in])),
        servo_deg=tuple(map(_known, angle[is_in])),
        lost_s=_spans(at_s[is_in], ~is_live[is_in]),
        most_deg=round(float(known.max(initial=0.0)), 3),
        median_deg=round(float(np.median(known)) if len(known) else 0.0, 3),
        break_deg=round(float(errors.max()), 3),
    )


def _with_breaks(effects: Table) -> tuple[Numbers, Numbers, Numbers, npt.NDArray[np.bool_]]:
    """When pulses end, hand, servo, and whether it follows; nothing known where pulses fail."""
    at_s = effects["end_ns"] / 1e9
    waits_s = np.diff(at_s)
    period_s = float(np.median(waits_s)) if len(waits_s) else 0.0
    after = np.flatnonzero(waits_s > 2.5 * period_s) + 1
    places = np.repeat(after, 2)
    edges_s = np.column_stack((at_s[after - 1] + period_s, at_s[after] - period_s)).ravel()
    return (
        np.insert(at_s, places, edges_s),
        np.insert(effects["wanted"], places, math.nan),
        np.insert(effects["angle"], places, math.nan),
        np.insert(effects["is_live"] == 1, places, False),
    )


def _busiest_s(at_s: Numbers, errors: Numbers) -> float:
    """Beginning of the span with the largest error in its middle.

    One in which the servo follows the hand all the time, if there is any.
    """
    lost = np.concatenate(([0], np.cumsum(errors < 0)))
    first = np.searchsorted(at_s, at_s - SPAN_S / 2)
    last = np.searchsorted(at_s, at_s + SPAN_S / 2)
    is_whole = (lost[last] == lost[first]) & (at_s >= at_s[0] + SPAN_S / 2)
    ranked = np.where(is_whole, errors, -1.0) if (is_whole & (errors >= 0)).any() else errors
    return float(at_s[int(ranked.argmax())]) - SPAN_S / 2


def _spans(at_s: Numbers, is_lost: npt.NDArray[np.bool_]) -> tuple[tuple[float, float], ...]:
    """First and last instants of the pulses in a row that are lost."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], is_lost, [False])).astype(int)))
    return tuple(
        (round(float(at_s[first]), 4), round(float(at_s[last - 1]), 4))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    )


def _known(value: float) -> float | None:
    return None if math.isnan(value) else round(float(value), 2)


def figure_of(data: PointingData) -> Figure:
    """The figure."""
    return figure(
        "pointing",
        data,
        title=_title(data.servos),
        text=_text(data),
        paint=lambda canvas: _paint(canvas, data.servos[:MOST_SHOWN]),
        height_px=FOOT_PX + ROW_PX * min(len(data.servos), MOST_SHOWN),
    )


def _title(servos: Sequence[ServoPointing]) -> str:
    worst, *others = servos
    shown_s = worst.at_s[-1] - worst.at_s[0]
    when = f"its worst {SPAN_S:g}" if shown_s > _WHOLE * SPAN_S else fmt_sig3(shown_s)
    title = (
        f"{worst.output} stands {fmt_sig3(worst.median_deg)} degrees off in the median, "
        f"{fmt_sig3(worst.most_deg)} at worst, in {when} seconds"
        f"{'' if worst.lost_s else ' without a break'}"
    )
    if not others:
        return title
    who = others[0].output if len(others) == 1 else "the others"
    return f"{title}; {who}, {fmt_sig3(max(other.most_deg for other in others))} at worst"


def _text(data: PointingData) -> str:
    parts = [
        f"{servo.output}, {fmt_sig3(servo.at_s[0])} to {fmt_sig3(servo.at_s[-1])} s: off by "
        f"{fmt_sig3(servo.median_deg)} degrees in the median, {fmt_sig3(servo.most_deg)} at most"
        f"{_near_breaks(servo)}."
        for servo in data.servos
    ]
    unseen = len(data.servos) - MOST_SHOWN
    more = f" Drawn are the {MOST_SHOWN} that are furthest off." if unseen > 0 else ""
    return (
        f"Start {data.start}, in each servo's own worst {SPAN_S:g} seconds at most: where the "
        "hand or head points, and where the servo stands, pulse by pulse; below, how far it is "
        "off. Errors are those while it follows the hand; at a break, as in failsafe or before the "
        "first value, it does not. "
        f"{' '.join(parts)}{more}"
    )


def _near_breaks(servo: ServoPointing) -> str:
    """The errors that a picture without a break leaves out: a servo on its way back."""
    if servo.break_deg <= servo.most_deg:
        return ""
    return f"; near breaks, which are not drawn, up to {fmt_sig3(servo.break_deg)}"


def _paint(canvas: Canvas, servos: Sequence[ServoPointing]) -> None:
    panels = canvas.axes(2 * len(servos), height_ratios=(5, 2) * len(servos))
    names = short_names([servo.output for servo in servos])
    for upper, lower, servo, name in zip(panels[::2], panels[1::2], servos, names, strict=True):
        upper.sharex(lower)
        upper.set_title(name, loc="left", fontsize="medium")
        _servo_panels(upper, lower, servo)
        upper.set_ylabel("angle, degrees" if not canvas.is_narrow else "angle, °")
        lower.set_ylabel("off, °")
    panels[-1].set_xlabel("time in the start, s")
    canvas.figure.align_ylabels(panels)
    canvas.key()


def _servo_panels(upper: "Axes", lower: "Axes", servo: ServoPointing) -> None:
    wanted, stands = (
        np.array([math.nan if v is None else v for v in values])
        for values in (servo.wanted_deg, servo.servo_deg)
    )
    upper.plot(servo.at_s, wanted, color=SERIES[0], lw=2.4, label="hand or head")
    upper.plot(servo.at_s, stands, color=SERIES[1], ls=(0, (5, 2)), lw=1.8, label="servo")
    upper.tick_params(labelbottom=False)
    error = np.nan_to_num(wanted - stands)
    at_s = (servo.at_s[0], *servo.at_s, servo.at_s[-1])
    lower.fill(at_s, (0, *error, 0), facecolor=(BAD, 0.35), edgecolor=BAD, lw=0.9)
    for first_s, last_s in servo.lost_s:
        upper.axvspan(
            first_s,
            last_s,
            facecolor="none",
            edgecolor=SERIES[3],
            hatch="////",
            lw=0,
            label="not following",
        )
    for axes in (upper, lower):
        axes.grid(visible=True)
