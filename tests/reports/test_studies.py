"""The pages of studies in `reports/` show what the code finds: compared by their figures' data."""

import pytest

from tests.reports.make import ROOT
from tests.reports.studies import PAGES
from tests.reports.test_reports import figures_in, same, words_in


@pytest.mark.slow
@pytest.mark.parametrize("name", PAGES)
def test_a_stored_page_has_the_figures_and_words_that_are_found_now(name: str) -> None:
    stored, fresh = (ROOT / "reports" / name).read_text(encoding="utf-8"), PAGES[name]()

    assert figures_in(stored)
    assert same(figures_in(stored), figures_in(fresh))
    assert words_in(stored) == words_in(fresh)
