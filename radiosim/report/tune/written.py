"""A tuning as JSON and CSV."""

from typing import Any

from radiosim.report.as_csv import csv_text
from radiosim.study.tune.tuned import Tried, Tuned


def tuned_json(found: Tuned) -> dict[str, Any]:
    """Everything, as the results have it."""
    return {
        "scene": found.scene,
        "starts": found.starts,
        "duration_s": found.duration_s,
        "settings": [setting.key for setting in found.settings],
        "assumed": list(found.assumed),
        "points": [_point(it) for it in found.points],
        "recommended": None
        if found.best is None
        else {"values": list(found.best.values), "why": found.why},
        "runners_up": [list(it.values) for it in found.runners_up],
        "front": [list(it.values) for it in found.front],
        "influence": dict(found.influence),
    }


def _point(it: Tried) -> dict[str, Any]:
    return {"values": list(it.values), "ok": it.ok, "clocks_meet": it.is_near, **it.row}


def tuned_csv(found: Tuned) -> dict[str, str]:
    """File name → text of each table."""
    keys = [setting.key for setting in found.settings]
    rows = [
        {
            **dict(zip(keys, it.values, strict=True)),
            "ok": it.ok,
            "clocks_meet": it.is_near,
            **{
                name: it.row.get(name)
                for name in ("margin", "latency_p99_ms", "air_time_share", "charge_mah_per_hour")
            },
            "cause": it.row.get("cause"),
            **{f"measured.{k}": v for k, v in it.row.get("measured", {}).items()},
            "refused": it.row["refused"],
        }
        for it in found.points
    ]
    influence = [{"setting": key, "share": share} for key, share in found.influence.items()]
    return {
        "points.csv": csv_text((*keys, "ok", "margin"), rows),
        "influence.csv": csv_text(("setting", "share"), influence),
    }
