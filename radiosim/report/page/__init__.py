"""A page that tells of results: one HTML file with pictures, for a browser, a phone or paper.

Whoever has results makes a `Page` of sections; `page_html` writes it. Nothing is fetched, nothing
runs: no script, no network.
"""

from radiosim.report.page.parts import Page, PageTable, Section
from radiosim.report.page.render import page_html

__all__ = ["Page", "PageTable", "Section", "page_html"]
