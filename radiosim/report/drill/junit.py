"""A failsafe drill as JUnit XML, so that the CI of a firmware project can run it.

Source of the format: the schema that most CI servers take, common practice, no standard.
"""

from collections.abc import Iterable
from itertools import groupby
from xml.etree import ElementTree as Xml

from radiosim.counted import counted
from radiosim.report.drill.unmet import unmet_text
from radiosim.report.terminal.words import digits
from radiosim.study.drill.results import FAILED, HELD, SHORT, UNTRIED, Drilled, DrillFigures


def as_junit(drilled: Drilled) -> str:
    """One testsuite a drill with a testcase for each output, and one for what was required."""
    root = Xml.Element("testsuites", name=_plain(f"radiosim failsafe {drilled.scenario}".strip()))
    for _, group in groupby(drilled.drills, key=lambda drill: (drill.fault, drill.unit)):
        _add_drill(root, drilled, tuple(group))
    if drilled.requirements:
        _add_requirements(root, drilled)
    if drilled.unmet:
        _add_unmet(root, drilled)
    for suite in root:
        for what in ("failure", "skipped"):
            name = "failures" if what == "failure" else what
            suite.set(name, str(len(suite.findall(f"testcase/{what}"))))
        suite.set("tests", str(len(suite.findall("testcase"))))
        suite.set("errors", "0")
    for name in ("tests", "failures"):
        root.set(name, str(sum(int(suite.get(name, "0")) for suite in root)))
    Xml.indent(root)
    text = Xml.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _add_drill(root: Xml.Element, drilled: Drilled, drills: Iterable[DrillFigures]) -> None:
    suite: Xml.Element | None = None
    fault = unit = ""
    for drill in drills:
        if suite is None:
            fault, unit = drill.fault, drill.unit
            suite = Xml.SubElement(root, "testsuite", name=f"{fault} {unit}")
        case = Xml.SubElement(suite, "testcase", classname=f"{fault}.{unit}", name=drill.output)
        if drill.verdict == FAILED:
            Xml.SubElement(case, "failure", type="failsafe", message=_plain(drill.why))
        elif drill.verdict == UNTRIED:
            Xml.SubElement(case, "failure", type="untried", message=_plain(drill.why))
        elif drill.verdict in (HELD, SHORT):
            Xml.SubElement(case, "skipped", message=_plain(drill.why))
        output = Xml.SubElement(case, "system-out")
        output.text = _plain(
            f"stop {digits(drill.reaction_ms.max)} ms at worst, bound {digits(drill.bound_ms)} ms, "
            f"{counted(drill.repeats, 'point')}"
        )
    for other in drilled.others:
        if suite is not None and (other.fault, other.unit) == (fault, unit):
            name = f"{other.output} goes on"
            case = Xml.SubElement(suite, "testcase", classname=f"{fault}.{unit}", name=name)
            if other.stops:
                message = (
                    f"it stopped {counted(other.stops, 'time')} though the fault was not its own"
                )
                Xml.SubElement(case, "failure", type="other stream", message=_plain(message))
            elif not other.repeats:
                message = "it was never alive when the fault struck: not tried"
                Xml.SubElement(case, "failure", type="untried", message=message)


def _add_requirements(root: Xml.Element, drilled: Drilled) -> None:
    suite = Xml.SubElement(root, "testsuite", name="requirements")
    for found in drilled.requirements:
        case = Xml.SubElement(suite, "testcase", classname="requirement", name=found.figure)
        if found.ok is not True:
            message = f"{digits(found.measured)} ms: {found.why}"
            Xml.SubElement(case, "failure", type="requirement", message=_plain(message))


def _add_unmet(root: Xml.Element, drilled: Drilled) -> None:
    suite = Xml.SubElement(root, "testsuite", name="asked")
    for found in drilled.unmet:
        case = Xml.SubElement(suite, "testcase", classname=f"asked.{found.stream}")
        case.set("name", found.figure)
        Xml.SubElement(case, "failure", type="asked", message=_plain(unmet_text(found)))


def _plain(text: str) -> str:
    """Without what XML cannot hold."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
