"""Shipped scenes, cut short, and what their tests ask of them."""

from functools import cache

from radiosim.measure.summary import FaultFigures, StreamFigures, Summary
from radiosim.scenario import load
from radiosim.scenario.shipped import shipped_scene
from radiosim.study.starts import simulate_starts


def text_of(name: str) -> str:
    scene = shipped_scene(name)
    assert scene is not None
    return scene.path.read_text(encoding="utf-8")


@cache
def summary_of(name: str, starts: int, *overrides: str) -> Summary:
    scene = shipped_scene(name)
    assert scene is not None
    return simulate_starts(load(scene.path, overrides), count=starts, workers=1)


def the_only_fault(summary: Summary) -> FaultFigures:
    (fault,) = summary.figures.faults
    return fault


def hole_of(stream: StreamFigures) -> float:
    assert stream.hole_ms is not None
    return stream.hole_ms


def verdicts(summary: Summary) -> dict[str, bool | None]:
    return {requirement.figure: requirement.ok for requirement in summary.requirements}
