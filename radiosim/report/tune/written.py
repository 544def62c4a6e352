"""A tuning as JSON and CSV."""

import math
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec

from radiosim.report.as_csv import csv_text
from radiosim.study.tune.rank import Tried
from radiosim.study.tune.tuned import Confirmed, Tuned

_OF_POINT = (
    "starts",
    "margin",
    "missed",
    "nearest",
    "cause",
    "latency_p99_ms",
    "duty_cycle",
    "charge_mah_per_hour",
)


def tuned_json(found: Tuned) -> dict[str, Any]:
    """Everything, as the results have it."""
    return {
        "scenario": found.scenario,
        "starts": found.starts,
        "duration_s": found.duration_s,
        "narrow": msgspec.to_builtins(found.narrow),
        "settings": [setting.key for setting in found.settings],
        "assumed": list(found.assumed),
        "as_it_stands": _point(found.as_it_stands),
        "points": [_point(it) for it in found.points],
        "recommended": None
        if found.best is None
        else {
            "values": _values(found.best.values),
            "as_it_stands": found.best.stands,
            "why": found.why,
            "warnings": list(found.warnings),
            "relies_on_clocks": found.best.is_near,
            "clocks": [[pair["first"], pair["second"]] for pair in found.best.near],
            "confirmed": [_confirmed(it) for it in found.confirmed],
        },
        "runners_up": [_values(it.values) for it in found.runners_up],
        "front": [_values(it.values) for it in found.front],
        "influence": {key: alone for key, alone, _ in _influence(found)},
        "influence_in_all": {key: in_all for key, _, in_all in _influence(found)},
        "influence_unknown": found.influence_unknown,
    }


def _influence(found: Tuned) -> Iterator[tuple[str, float | None, float | None]]:
    """Key, share alone, share in all; None: not known."""
    for setting in found.settings:
        it = found.influence.get(setting.key)
        yield setting.key, None if it is None else it.alone, None if it is None else it.in_all


def _values(values: Sequence[float]) -> list[float | None]:
    """Null for what the scenario has no number for."""
    return [None if math.isnan(value) else value for value in values]


def _point(it: Tried) -> dict[str, Any]:
    return {"values": _values(it.values), "ok": it.ok, "clocks_beat": it.is_near, **it.row}


def _confirmed(it: Confirmed) -> dict[str, Any]:
    return {
        "values": _values(it.values),
        "starts": it.starts,
        "duration_s": it.duration_s,
        "ok": it.ok,
        "is_new": it.is_new,
        "requirements": msgspec.to_builtins(it.requirements),
    }


def tuned_csv(found: Tuned) -> dict[str, str]:
    """File name → text of each table."""
    keys = [setting.key for setting in found.settings]
    tried = [("", it) for it in found.points]
    rows = [_row(keys, role, it) for role, it in (("as it stands", found.as_it_stands), *tried)]
    pairs = [
        dict(zip(keys, it.values, strict=True)) | _pair_row(pair)
        for it in found.points
        for pair in it.row.get("pairs", ())
    ]
    influence = [
        {"setting": key, "alone": alone, "in_all": in_all}
        for key, alone, in_all in _influence(found)
    ]
    return {
        "points.csv": csv_text(("role", *keys, "ok", "margin"), rows),
        "pairs.csv": csv_text((*keys, "first", "second"), pairs),
        "influence.csv": csv_text(("setting", "alone", "in_all"), influence),
    }


def _row(keys: list[str], role: str, it: Tried) -> dict[str, Any]:
    row = it.row
    return {
        "role": role,
        **{k: None if math.isnan(v) else v for k, v in zip(keys, it.values, strict=True)},
        "ok": it.ok,
        "clocks_beat": it.is_near,
        **{name: row.get(name) for name in _OF_POINT},
        **{f"worst.{path}": value for path, value in row.get("worst", {}).items()},
        **{
            f"stream.{name}.{figure}": value
            for name, figures in row.get("streams", {}).items()
            for figure, value in figures.items()
        },
        "refused": row["refused"],
    }


def _pair_row(pair: dict[str, Any]) -> dict[str, Any]:
    row = {name: value for name, value in pair.items() if not name.endswith("_share")}
    for name in ("clash_share", "answer_share"):
        row[f"{name}.first"], row[f"{name}.second"] = pair[name]
    return row
