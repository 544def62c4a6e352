"""Cases that passed, failed or were skipped, as JUnit XML for the CI of a firmware project.

Source of the format: the schema that most CI servers take, common practice, no standard.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as Xml

from radiosim.safety import CAUTION


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One thing that was tried; passed if it neither failed nor was skipped."""

    suite: str
    class_name: str
    name: str
    failure: str | None = None
    """Why it failed."""
    failure_type: str = "failure"
    skipped: str | None = None
    """Why nothing was asked of it."""
    output: str = ""
    """What was measured."""
    seconds: float | None = None

    def __post_init__(self) -> None:
        """ValueError if it both failed and was skipped."""
        if self.failure is not None and self.skipped is not None:
            raise ValueError(f"{self.name}: a case must not both fail and be skipped")


def junit_text(name: str, cases: Sequence[Case]) -> str:
    """One testsuite for each suite of the cases, in the order in which they first appear.

    Each has the caution as a property: servers show those of suites, and not all know of others.
    """
    root = Xml.Element("testsuites", name=_plain(name))
    for suite in dict.fromkeys(case.suite for case in cases):
        _add_suite(root, suite, [case for case in cases if case.suite == suite])
    _count(root, cases)
    Xml.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{Xml.tostring(root, encoding="unicode")}\n'


def _add_suite(root: Xml.Element, name: str, cases: Sequence[Case]) -> None:
    suite = Xml.SubElement(root, "testsuite", name=_plain(name))
    Xml.SubElement(Xml.SubElement(suite, "properties"), "property", name="caution", value=CAUTION)
    for case in cases:
        made = Xml.SubElement(
            suite, "testcase", classname=_plain(case.class_name), name=_plain(case.name)
        )
        if case.seconds is not None:
            made.set("time", f"{case.seconds:.3f}")
        if case.failure is not None:
            message = _plain(case.failure)
            Xml.SubElement(made, "failure", type=_plain(case.failure_type), message=message)
        if case.skipped is not None:
            Xml.SubElement(made, "skipped", message=_plain(case.skipped))
        if case.output:
            Xml.SubElement(made, "system-out").text = _plain(case.output)
    _count(suite, cases)
    suite.set("skipped", str(sum(case.skipped is not None for case in cases)))
    suite.set("errors", "0")


def _count(element: Xml.Element, cases: Sequence[Case]) -> None:
    element.set("tests", str(len(cases)))
    element.set("failures", str(sum(case.failure is not None for case in cases)))


def _plain(text: str) -> str:
    """A text without what XML cannot hold."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
