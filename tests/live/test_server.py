"""The live page's server: who is let in, and what is said to those who are."""

from collections.abc import Iterator

import pytest

from radiosim.live.server import LiveServer
from tests.live.served import desk, lines, request, served


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    with served(desk(tmp_path_factory.mktemp("live"))) as found:
        yield found


def test_the_page_its_parts_and_an_answer_are_there(server: LiveServer) -> None:
    assert [request(server, "GET", name)[0] for name in ("", "live.css", "live.js")] == [200] * 3
    status, body = request(server, "POST", "answer", {"page": "a", "set": {}})

    assert status == 200
    kinds = [line["kind"] for line in lines(body)]
    assert kinds == ["foretold", *["look"] * 4, "figure", "figure", "meet", "figure", "done"]
    assert [line["starts"] for line in lines(body) if line["kind"] == "look"] == [1, 2, 4, 5]


def test_a_title_can_not_end_the_script_that_it_stands_in(server: LiveServer) -> None:
    _, page = request(server, "GET", "")

    assert b"Two &lt;/script&gt; units" in page
    assert page.count(b"</script>") == page.count(b"<script")
