"""A page as HTML text."""

import json
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from radiosim.report.caution import CAUTION
from radiosim.report.page.parts import Page
from radiosim.results.html import palette


def page_html(page: Page) -> str:
    """The page in one file, all texts escaped; ValueError if two figures have one name."""
    names = [section.figure.name for section in page.sections if section.figure is not None]
    if len(set(names)) < len(names):
        raise ValueError(f"figures of a page must have different names, got {', '.join(names)}")
    template = _environment().get_template("page.html.j2")
    return template.render(page=page, caution=CAUTION, style=Markup(palette() + _file("page.css")))


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
    return environment


def _file(name: str) -> str:
    return (resources.files("radiosim.report.page") / name).read_text(encoding="utf-8")


def _as_data(data: dict[str, Any]) -> Markup:
    """JSON that can neither end its element nor open another."""
    text = json.dumps(data, separators=(",", ":"), allow_nan=False)
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return Markup(text)
