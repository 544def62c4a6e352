"""A run's summary as a notebook shows it."""

from radiosim.measure.summary import Summary
from radiosim.report.run import amount, finding_sections, held_text, title_of
from radiosim.report.run_tables import requirement_table, stream_table
from radiosim.results.cell_html import notebook_html
from radiosim.results.document import Origin, Report, Section


def summary_html(summary: Summary) -> str:
    """Streams, requirements and findings; a summary alone has no scenario to judge more by."""
    return notebook_html(
        Report(
            title=title_of(summary),
            subject="A simulated radio control link",
            done=f"{amount(summary)} (seed {summary.seed})",
            verdict=held_text(summary),
            sections=(
                *finding_sections(summary.findings or ()),
                Section(tables=(stream_table(summary, None),)),
                Section(tables=(requirement_table(summary),)),
            ),
            data=summary.results(),
            origin=Origin(command="", seed=summary.seed, version=summary.version),
        )
    )
