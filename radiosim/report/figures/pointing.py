"""Figure: what pointing feels like; where the hand or head points, and where the servo stands."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from radiosim.report.figures.canvas import BAD, SERIES, Canvas, drawn
from radiosim.report.figures.drawn import Drawn
from radiosim.report.terminal.words import digits
from radiosim.trace import Trace
from radiosim.vehicle.kept import VehicleRecord

SPAN_S = 6.0

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PointingData:
    """One servo over some seconds, pulse by pulse; None where nothing is known."""

    start: int
    output: str
    at_s: tuple[float, ...]
    wanted_deg: tuple[float | None, ...]
    servo_deg: tuple[float | None, ...]
    is_live: tuple[bool, ...]
    """False: it does not follow the hand then, as in failsafe."""
    most_deg: float
    """Largest error while it follows the hand, in this span."""
    usual_deg: float
    """Median of the same."""


def pointing_data(trace: Trace, vehicle: VehicleRecord) -> PointingData | None:
    """The seconds in which a servo that follows the hand lags most; None without such a servo."""
    for name, output in trace.scenario.output.items():
        if output.servo is None:
            continue
        effects = vehicle.outputs[name].effects
        errors = np.abs(effects["wanted"] - effects["angle"])
        errors = np.where((effects["is_live"] == 1) & ~np.isnan(errors), errors, -1.0)
        if not len(errors) or errors.max() < 0:
            continue
        at_s = effects["end_ns"] / 1e9
        low = max(0.0, min(_busiest_s(at_s, errors), trace.duration_ns / 1e9 - SPAN_S))
        is_in = (at_s >= low) & (at_s <= low + SPAN_S)
        known = errors[is_in & (errors >= 0)]
        return PointingData(
            start=trace.start,
            output=name,
            at_s=tuple(round(float(value), 6) for value in at_s[is_in]),
            wanted_deg=tuple(map(_known, effects["wanted"][is_in])),
            servo_deg=tuple(map(_known, effects["angle"][is_in])),
            is_live=tuple(bool(value) for value in effects["is_live"][is_in]),
            most_deg=round(float(known.max(initial=0.0)), 3),
            usual_deg=round(float(np.median(known)) if len(known) else 0.0, 3),
        )
    return None


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


def _known(value: float) -> float | None:
    return None if math.isnan(value) else round(float(value), 3)


def draw(data: PointingData) -> Drawn:
    """The figure."""
    return drawn(
        "pointing",
        data,
        title=f"{data.output} stands {digits(data.usual_deg)} degrees off half of the time, "
        f"{digits(data.most_deg)} at worst, in its worst {SPAN_S:g} seconds",
        text=f"Start {data.start}, {digits(data.at_s[0])} to {digits(data.at_s[-1])} s: where the "
        f"hand or head points, and where the servo {data.output} stands, pulse by pulse. While it "
        f"follows the hand it is off by {digits(data.usual_deg)} degrees half of the time and by "
        f"{digits(data.most_deg)} at most.",
        paint=lambda canvas: _paint(canvas, data),
        height_px=340,
    )


def _paint(canvas: Canvas, data: PointingData) -> None:
    upper, lower = canvas.axes(2, sharex=True, height_ratios=(3, 1))
    wanted, servo = (
        np.array([math.nan if v is None else v for v in values])
        for values in (data.wanted_deg, data.servo_deg)
    )
    upper.plot(data.at_s, wanted, color=SERIES[0], lw=2.4, label="hand or head")
    upper.plot(data.at_s, servo, color=SERIES[1], ls=(0, (5, 2)), lw=1.8, label="servo")
    upper.set_ylabel("angle, degrees")
    is_live = np.array(data.is_live)
    error = np.where(is_live, wanted - servo, math.nan)
    lower.fill_between(data.at_s, 0, error, color=BAD, alpha=0.35, lw=0)
    lower.plot(data.at_s, error, color=BAD, lw=1)
    lower.set_ylabel("off, degrees" if not canvas.is_narrow else "off, °")
    lower.set_xlabel("time in the start, s")
    for axes in (upper, lower):
        axes.grid(visible=True)
    canvas.figure.align_ylabels((upper, lower))
    if not is_live.all():
        upper.fill_between(
            data.at_s,
            0,
            1,
            where=(~is_live).tolist(),
            transform=upper.get_xaxis_transform(),
            facecolor="none",
            edgecolor=SERIES[3],
            hatch="////",
            lw=0,
            label="not following",
        )
    canvas.key()
