"""`radiosim layout compare --page`: what was compared, as a page."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from radiosim.cli.layout_change import Simulated
    from radiosim.cli.layout_options import Length
    from radiosim.layout.compare import Comparison
    from radiosim.scenario.named_layout import NamedLayout


def write_comparison(
    page: Path,
    compared: "Comparison",
    layouts: "tuple[NamedLayout, NamedLayout]",
    length: "Length",
    simulated: "Simulated",
    source: str | None,
    command: str,
) -> None:
    """Write the page of an old and a new layout."""
    from radiosim.cli.page import write_page
    from radiosim.cli.source import Choice
    from radiosim.report.page.of_layouts import page_of_layouts

    made = page_of_layouts(
        compared,
        *layouts,
        length,
        change=simulated.change,
        not_simulated=simulated.refusal,
        source=source or "",
        scenario_text="" if source is None else Choice(source=source).scenario_text(),
        seed=simulated.seed,
        command=command,
    )
    write_page(page, made)
