"""A figure as a picture of its own, for a README or a talk."""

import json
from html import escape
from importlib import resources

from radiosim.report.figures.drawn import Drawn

_LETTERS = 'text { font-family: "DejaVu Sans", Verdana, sans-serif !important; }'


def palette() -> str:
    """The colours that figures name, for light screens, dark ones and paper, as a style sheet."""
    return (resources.files("radiosim.report.figures") / "palette.css").read_text(encoding="utf-8")


def alone(figure: Drawn) -> str:
    """The wide picture as an SVG file with its colours, its words and its numbers."""
    opened, rest = figure.wide_svg.split(">", maxsplit=1)
    style = f"{palette()}svg {{ background: var(--ground); }}\n{_LETTERS}\n"
    numbers = escape(json.dumps(figure.data, separators=(",", ":")), quote=False)
    return (
        f"{opened}>\n<title>{escape(figure.title)}</title>\n<desc>{escape(figure.text)}</desc>\n"
        f"<metadata>{numbers}</metadata>\n<style>\n{style}</style>{rest}\n"
    )
