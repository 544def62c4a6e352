"""The drill as JSON, CSV, and JUnit XML for a firmware project's own checks."""

from typing import Any
from xml.etree import ElementTree as ET

from radiosim.report.as_csv import csv_text
from radiosim.report.drill.verdict import Examined
from radiosim.report.flat import flat


def drill_json(found: Examined) -> dict[str, Any]:
    """Everything, as the results have it."""
    drilled = found.drilled
    return {
        "scene": drilled.scene,
        "tries": drilled.tries,
        "ok": found.ok,
        "drills": drilled.drills,
        "bound": {
            name: {
                "output": bound.output,
                "terms": [{"name": term, "ms": ms} for term, ms in bound.terms.items()],
                "total_ms": bound.total_ms,
                "why": bound.why,
            }
            for name, bound in drilled.bounds.items()
        },
        "worst": {name: {"stop_ms": ms} for name, ms in drilled.worst_stop_ms.items()},
        "others": drilled.others,
        "trade": found.trades,
        "room": found.rooms,
        "asked": {"nuisance_per_hour": found.nuisance_per_hour, "stop_ms": found.stop_ms},
        "speed_m_s": found.speed_m_s,
        "requirements": [
            {
                "figure": it.figure,
                "at_most": it.at_most,
                "measured": it.measured,
                "ok": it.ok,
            }
            for it in found.judged
        ],
    }


def drill_csv(found: Examined) -> dict[str, str]:
    """File name → text of each table."""
    bounds = [
        {"stream": stream, "output": bound.output, "term": term, "ms": ms}
        for stream, bound in found.drilled.bounds.items()
        for term, ms in bound.terms.items()
    ]
    trades = [
        {"stream": stream, **flat(row)} for stream, rows in found.trades.items() for row in rows
    ]
    rooms = [{"stream": stream, **flat(room)} for stream, room in found.rooms.items()]
    return {
        "drills.csv": csv_text(
            ("fault", "stream", "output"), [flat(row) for row in found.drilled.drills]
        ),
        "bounds.csv": csv_text(("stream", "output", "term", "ms"), bounds),
        "trade.csv": csv_text(("stream", "timeout_ms"), trades),
        "room.csv": csv_text(("stream", "shortest_ms", "longest_ms"), rooms),
    }


def drill_junit(found: Examined) -> str:
    """One suite a fault, one case an output; one more suite for requirements."""
    root = ET.Element("testsuites", name=f"radiosim failsafe {found.drilled.scene}")
    for fault in dict.fromkeys(row.fault for row in found.drilled.drills):
        rows = [row for row in found.drilled.drills if row.fault == fault]
        failed = [row for row in rows if row.is_failed]
        suite = ET.SubElement(
            root, "testsuite", name=fault, tests=str(len(rows)), failures=str(len(failed))
        )
        for row in rows:
            case = ET.SubElement(suite, "testcase", classname=row.stream, name=row.output)
            if row.is_failed:
                text = f"alive in {row.alive} of {row.tries} tries: {row.why}"
                ET.SubElement(case, "failure", message=text)
    cases = [(it.figure, "" if it.ok else _missed(it.measured, it.at_most)) for it in found.judged]
    cases += [("other streams", text) for text in found.drilled.others] or [("other streams", "")]
    missed = sum(bool(text) for _, text in cases)
    suite = ET.SubElement(
        root, "testsuite", name="requirements", tests=str(len(cases)), failures=str(missed)
    )
    for name, text in cases:
        case = ET.SubElement(suite, "testcase", classname="requirements", name=name)
        if text:
            ET.SubElement(case, "failure", message=text)
    ET.indent(root)
    return ET.tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _missed(measured: float | None, at_most: float) -> str:
    found = "it never stopped" if measured is None else f"measured {measured:.4g}"
    return f"{found}, at most {at_most:g} was asked"
