"""A report as a page of one file, for light screens, dark ones, phones and paper."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import groupby
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from radiosim.results.document import Report, Said, Section, Sentence, sentences_of, shown_tables
from radiosim.results.html_table import page_table, steps_of, widening_css


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """Sentences of one form that follow each other."""

    form: str
    sentences: tuple[Sentence, ...]


def page_html(report: Report) -> str:
    """The page in one file, all texts escaped; draws its figures."""
    sections = [section for section in report.ordered_sections() if section.where != "terminal"]
    tables = {
        table.key: page_table(table) for section in sections for table in shown_tables(section)
    }
    changes = [section for section in sections if section.role == "change"]
    style = palette() + _file("page.css") + widening_css(steps_of(tables.values()))
    return (
        _environment()
        .get_template("page.html.j2")
        .render(
            report=report,
            origin=report.origin,
            changes=changes,
            sections=[section for section in sections if section.role != "change"],
            cautions=(*report.cautions_first, *report.cautions),
            tables=tables,
            style=Markup(style),
        )
    )


def palette() -> str:
    """The colours that pages and figures name, for light screens, dark ones and paper, as CSS."""
    return _file("palette.css")


@cache
def _environment() -> Environment:
    environment = Environment(
        autoescape=True,
        loader=FunctionLoader(_file),
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    environment.filters["as_data"] = _as_data
    environment.filters["as_picture"] = Markup
    environment.filters["runs"] = _runs
    environment.filters["shown_tables"] = shown_tables
    environment.tests["empty"] = _is_empty
    return environment


@cache
def _file(name: str) -> str:
    return (resources.files("radiosim.results") / name).read_text(encoding="utf-8")


def _is_empty(section: Section) -> bool:
    """Whether a page has nothing to show of a section."""
    return not (section.sentences or section.figures or shown_tables(section) or section.is_step)


def _runs(said: Sequence[Said]) -> Iterator[_Run]:
    """Sentences that follow each other as one list, where a list is what they are."""
    for form, run in groupby(sentences_of(said), key=_form):
        sentences = tuple(run)
        if form == "prose":
            yield from (_Run(form=form, sentences=(sentence,)) for sentence in sentences)
        else:
            yield _Run(form=form, sentences=sentences)


def _form(sentence: Sentence) -> str:
    if sentence.form in ("prose", "item") and sentence.lead:
        return "lead"
    if sentence.form == "prose" and sentence.role in ("warn", "bad"):
        return "item"
    return sentence.form


def _as_data(data: Mapping[str, Any]) -> Markup:
    """JSON that can neither end its element nor open another."""
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return Markup(text)
