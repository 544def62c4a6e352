"""A summary as JSON text: flat for one start, pooled figures and the worst start for several."""

from typing import Any

import msgspec

from radiosim.measure.summary import Summary


def as_json(summary: Summary) -> str:
    """JSON text of the results, indented by two, keys always in the same order.

    A summary of one start has its figures at the top; one of several has them under `pooled`, and
    the worst start's under `worst`. What could not be measured is null.
    """
    document = _of_one(summary) if summary.start is not None else _of_several(summary)
    return msgspec.json.format(msgspec.json.encode(document), indent=2).decode() + "\n"


def _of_one(summary: Summary) -> dict[str, Any]:
    return {
        "scenario": summary.scenario,
        "title": summary.title,
        "seed": summary.seed,
        "start": summary.start,
        **_run(summary),
        "stream": summary.figures.stream,
        "output": summary.figures.output,
        "air": summary.figures.air,
        "receiver": summary.figures.receiver,
        "faults": summary.figures.faults,
        **_judgement(summary),
    }


def _of_several(summary: Summary) -> dict[str, Any]:
    return {
        "scenario": summary.scenario,
        "title": summary.title,
        "seed": summary.seed,
        "starts": summary.starts,
        "starts_around_beats": summary.starts_around_beats,
        **_run(summary),
        "pooled": summary.figures,
        "worst": summary.worst,
        **_judgement(summary),
    }


def _run(summary: Summary) -> dict[str, Any]:
    return {
        "duration_s": summary.duration_s,
        "version": summary.version,
        "engine": summary.engine,
        "assumed": summary.assumed,
        "warnings": summary.warnings,
    }


def _judgement(summary: Summary) -> dict[str, Any]:
    return {
        "requirements": summary.requirements,
        "findings": summary.findings,
        "stopping": summary.stopping,
    }
