"""A figure as a picture of its own, for a README or a talk."""

import json
from html import escape

from radiosim.results.document import Figure

_LETTERS = 'text { font-family: "DejaVu Sans", Verdana, sans-serif !important; }'


def alone(figure: Figure) -> str:
    """The wide picture as an SVG file with its colours, its words and its numbers."""
    from radiosim.results.html import palette

    opened, rest = figure.draw().wide_svg.split(">", maxsplit=1)
    style = f"{palette()}svg {{ background: var(--ground); }}\n{_LETTERS}\n"
    numbers = escape(json.dumps(dict(figure.data), separators=(",", ":")), quote=False)
    return (
        f"{opened}>\n<title>{escape(figure.title)}</title>\n<desc>{escape(figure.text)}</desc>\n"
        f"<metadata>{numbers}</metadata>\n<style>\n{style}</style>{rest}\n"
    )
