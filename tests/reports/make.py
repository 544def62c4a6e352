"""Make what stands in `reports/`: `python -m tests.reports.make`."""

from html import escape
from pathlib import Path

from radiosim.assess.in_words import worst_start
from radiosim.engine.simulate import simulate
from radiosim.findings import diagnosed
from radiosim.python.result import alone
from radiosim.report.figures import beats
from radiosim.report.run import run_report
from radiosim.results.data import json_text
from radiosim.results.document import Origin
from radiosim.results.html import page_html
from radiosim.results.terminal import plain_text
from radiosim.scenario import load
from radiosim.study.starts import simulate_starts
from tests.reference.outside import rows_in
from tests.reports.checks import as_csv, as_markdown, rows_of_a_run
from tests.reports.live_picture import live_png
from tests.reports.studies import PAGES

ROOT = Path(__file__).parents[2]
SCENARIO = "culvert-crawler"
MET = "twin-clocks"
LIVE = "live-page.png"
COLUMNS = 80
CHARACTER, LINE = 8.4, 18
"""Width of a character and height of a line in the picture."""
NO_BREAK = "\N{NO-BREAK SPACE}"
"""Viewers fold plain spaces."""


def picture(text: str) -> str:
    """Printed text as a picture: headings bold, warnings bold as well as marked."""
    lines = text.splitlines()
    rows = "".join(
        f'<text x="16" y="{32 + LINE * row}" {_weight(lines, row)}'
        f'textLength="{CHARACTER * len(line):g}">{escape(line).replace(" ", NO_BREAK)}</text>\n'
        for row, line in enumerate(lines)
        if line
    )
    width, height = 32 + CHARACTER * COLUMNS, 40 + LINE * len(lines)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height}" role="img" '
        'font-family="ui-monospace, Menlo, Consolas, monospace" font-size="14" '
        'fill="#1c2b36">\n'
        "<title>What radiosim run prints for the culvert crawler</title>\n"
        f'<rect width="{width:g}" height="{height}" rx="6" fill="#f7f5ef"/>\n{rows}</svg>\n'
    )


def _weight(lines: list[str], row: int) -> str:
    last = len(lines) - lines[::-1].index("")
    is_heading = row < last and (row == 0 or not lines[row - 1])
    return 'font-weight="bold" ' if is_heading or lines[row].startswith("!") else ""


def reports() -> dict[str, str]:
    """Name and content of every file."""
    given = load(ROOT / "scenarios" / f"{SCENARIO}.toml")
    summary = simulate_starts(given, has_curves=True)
    summary = diagnosed(given, summary)
    path = f"reports/{SCENARIO}.html"
    origin = Origin(
        command=f"radiosim run {SCENARIO} --page {path}",
        scenario_name=SCENARIO,
        scenario_text=(ROOT / "scenarios" / f"{SCENARIO}.toml").read_text(encoding="utf-8"),
        seed=summary.seed,
        version=summary.version,
    )
    shown = simulate(given, start=worst_start(summary))
    report = run_report(summary, given, origin, shown=shown)
    text = plain_text(report, COLUMNS)
    return {
        f"{SCENARIO}.html": page_html(report),
        f"{MET}-beats.svg": clocks(),
        f"{SCENARIO}.txt": text,
        f"{SCENARIO}.json": json_text(report),
        f"{SCENARIO}.svg": picture(text),
    }


def clocks() -> str:
    """The figure with which README.md opens: two clocks that meet in the worst start."""
    given = load(ROOT / "scenarios" / f"{MET}.toml")
    trace = simulate(given, start=worst_start(simulate_starts(given)))
    met = beats.beats_data(trace)
    assert met is not None
    return alone(beats.figure_of(met))


def checks() -> dict[str, str]:
    """Name and content of the table of outside checks; runs them all."""
    text = as_csv(rows_of_a_run())
    return {"checks.csv": text, "checks.md": as_markdown(rows_in(text))}


def studies() -> dict[str, str]:
    """Name and content of the pages of studies."""
    return {name: make() for name, make in PAGES.items()}


if __name__ == "__main__":
    for name, content in (reports() | studies() | checks()).items():
        (ROOT / "reports" / name).write_text(content, encoding="utf-8")
        print(f"reports/{name}")
    drawn = live_png()
    if drawn is not None:
        (ROOT / "reports" / LIVE).write_bytes(drawn)
    print(f"reports/{LIVE}" if drawn else f"no browser here: reports/{LIVE} stays as it is")
