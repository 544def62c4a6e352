"""The live page in a real browser: sliders move, answers follow, and everybody can read them."""

from collections.abc import Iterator

import pytest

from radiosim.live.server import LiveServer
from tests.live.served import SMALL, desk, served
from tests.report.page.browser import CHROMIUM, Browser, browser

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="needs chromium; .ci/run installs it"),
]

WITH_OUTPUT = (
    SMALL
    + """
[transmitter.drive.signals]
value = { kind = "sine", period_s = 3, amplitude = 0.9 }
[output.wheel]
stream = "drive"
field = "value"
[[fault]]
kind = "jam"
unit = "air"
at_s = 2
for_s = 0.5
"""
)
SETTLED = """new Promise((settle) => {
  let left = 3000;
  const look = () => document.body.dataset.state === "done" || !left-- ? settle(left > 0)
    : setTimeout(look, 20);
  look();
})"""
"""Whether the whole answer has come, with its pictures."""
MOVE = """((key, value) => {
  const it = hello.controls.find((one) => one.key === key), input = rows[key].range;
  input.value = it.values.indexOf(value);
  for (const kind of ["input", "change"]) input.dispatchEvent(new Event(kind));
})"""
FOCUSABLE = """[...document.querySelectorAll(
  'a[href], button, input, select, summary, [tabindex="0"]')].filter((it) =>
  !it.disabled && it.checkVisibility() && !it.closest("dialog"))"""
FOCUSED = """((it) => {
  const label = it.labels && it.labels.length ? it.labels[0].textContent : "";
  return [it.id || it.textContent || it.getAttribute("aria-label"),
    Boolean(label || it.getAttribute("aria-label") || it.textContent)];
})(document.activeElement)"""
PALE = """(() => {
  const paint = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const numbers = (colour) => {
    paint.clearRect(0, 0, 1, 1);
    paint.fillStyle = colour;
    paint.fillRect(0, 0, 1, 1);
    return [...paint.getImageData(0, 0, 1, 1).data];
  };
  const light = ([r, g, b]) => [r, g, b].map((part) => part / 255)
    .map((part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4)
    .reduce((sum, part, k) => sum + part * [0.2126, 0.7152, 0.0722][k], 0);
  const ground = (it) => {
    for (; it; it = it.parentElement) {
      const found = numbers(getComputedStyle(it).backgroundColor);
      if (found[3] === 255) return found;
    }
    return [255, 255, 255, 255];
  };
  let read = 0;
  const pale = [];
  for (const it of document.querySelectorAll("body *")) {
    const hasText = [...it.childNodes].some((node) => node.nodeType === 3 && node.data.trim());
    if (!(hasText || it.matches("input[type=number]")) || !it.checkVisibility()) continue;
    const style = getComputedStyle(it);
    const ink = numbers(it.closest("svg") ? style.fill : style.color);
    const [low, high] = [light(ink), light(ground(it))].sort((a, b) => a - b);
    read += 1;
    if ((high + 0.05) / (low + 0.05) < 4.5) pale.push(`${it.tagName} ${it.textContent}`);
  }
  return { read, pale };
})()"""
"""Texts whose contrast with what they stand on is below 4.5 (WCAG 2.2, 1.4.3)."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    with served(desk(tmp_path_factory.mktemp("live"), WITH_OUTPUT)) as found:
        yield found


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(tmp_path_factory.mktemp("profile")) as found:
        yield found


@pytest.fixture(autouse=True)
def quiet(tab: Browser, server: LiveServer) -> Iterator[None]:
    """Whatever is done, the console says nothing and no other address is asked."""
    yield
    assert tab.complaints == []
    assert [url for url in tab.fetched if not url.startswith((server.address, "data:"))] == []


def opened(tab: Browser, server: LiveServer, link: str = "", **media: str | int) -> None:
    """The page, its first answer whole."""
    tab.open("about:blank", width=1280)
    tab.open(server.address + link, **({"width": 1280} | media))  # type: ignore[arg-type]
    assert tab.ask(SETTLED)


def move(tab: Browser, key: str, value: float) -> None:
    """Move a slider there."""
    tab.ask(f"{MOVE}('{key}', {value})")


def text(tab: Browser, where: str) -> str:
    """What stands in the elements of a selector."""
    found = f"[...document.querySelectorAll('{where}')].map((it) => it.innerText).join(' | ')"
    return str(tab.ask(found))


PERIOD, TIMEOUT = "transmitter.drive.period_ms", "failsafe.drive.timeout_ms"


def test_an_answer_follows_a_slider_beside_what_was_and_steps_go_back(
    tab: Browser, server: LiveServer
) -> None:
    opened(tab, server)
    assert "as it was" not in text(tab, "#streams")
    first = text(tab, "#streams")

    move(tab, PERIOD, 30)
    assert tab.ask(SETTLED)
    assert f"--set {PERIOD}=30" in text(tab, "#command")
    assert tab.ask("location.hash") == f"#{PERIOD}=30"
    assert "as it was" in text(tab, "#streams")
    assert "of 5 starts than it was" in text(tab, "#streams")

    tab.ask("document.getElementById('undo').click()")
    assert tab.ask(SETTLED)
    assert text(tab, "#streams") == first
    assert tab.ask("[location.hash, rows['transmitter.drive.period_ms'].range.valueAsNumber]") == [
        "",
        tab.ask(f"hello.controls.find((it) => it.key === '{PERIOD}').values.indexOf(20)"),
    ]
    tab.ask("document.getElementById('redo').click()")
    assert tab.ask(SETTLED)
    assert tab.ask("location.hash") == f"#{PERIOD}=30"


def test_of_many_moves_the_last_is_answered(tab: Browser, server: LiveServer) -> None:
    opened(tab, server)

    for value in (22, 25, 30, 33, 40):
        move(tab, PERIOD, value)
    assert tab.ask(SETTLED)

    assert f"--set {PERIOD}=40" in text(tab, "#command")
    assert text(tab, "#progress").startswith("All 5 starts")
    assert tab.ask("document.querySelectorAll('figure.stale').length") == 0


def test_a_link_carries_settings_words_and_faults_and_no_token(
    tab: Browser, server: LiveServer
) -> None:
    opened(tab, server, f"#{PERIOD}=23&receiver.read=newest&faults=no&receiver.nothing=1")

    assert tab.ask("carried()") == f"#{PERIOD}=23&receiver.read=newest&faults=no"
    assert all(
        line in text(tab, "#command")
        for line in (f"{PERIOD}=23", "receiver.read=newest", "fault=[]")
    )
    tab.ask("""new Promise((gone) => {
      addEventListener("hashchange", () => setTimeout(gone, 0));
      document.querySelector(".skip").click();
    })""")
    assert tab.ask("location.hash") == tab.ask("carried()")
    assert tab.ask(f"now['{PERIOD}']") == 23


def test_what_is_refused_is_said_beside_its_control(tab: Browser, server: LiveServer) -> None:
    opened(tab, server)

    tab.ask(
        f"""((input) => {{ input.value = "-5"; input.dispatchEvent(new Event("change")); }})(
          rows['{PERIOD}'].row.querySelector("input[type=number]"))"""
    )
    assert tab.ask(SETTLED)

    assert PERIOD in text(tab, "#verdict")
    assert tab.ask(f"rows['{PERIOD}'].problem.textContent")
    move(tab, PERIOD, 30)
    assert tab.ask(SETTLED)
    assert tab.ask(f"rows['{PERIOD}'].problem.textContent") == ""


def test_the_keyboard_reaches_everything_and_moves_sliders(
    tab: Browser, server: LiveServer
) -> None:
    opened(tab, server)
    tab.ask("document.querySelectorAll('details').forEach((it) => { it.open = true; })")
    count = tab.ask(f"{FOCUSABLE}.length")
    assert count > 40
    tab.ask(f"{FOCUSABLE}.forEach((it) => it.addEventListener('focus', () => {{ it.seen = 1; }}))")

    named = []
    for _ in range(count):
        tab.press("Tab", 9)
        named.append(tab.ask(FOCUSED))

    assert tab.ask(f"{FOCUSABLE}.filter((it) => !it.seen).map((it) => it.outerHTML)") == []
    assert [who for who, has_name in named if not has_name] == []
    tab.ask(f"rows['{PERIOD}'].range.focus()")
    tab.press("ArrowRight", 39)
    assert tab.ask(SETTLED)
    assert tab.ask("location.hash").startswith(f"#{PERIOD}=")
    assert tab.ask("document.activeElement.getAttribute('aria-valuetext')").endswith(" ms")


@pytest.mark.parametrize(
    ("width", "scheme"),
    [(320, "light"), (390, "dark"), (1280, "light"), (2000, "dark")],
)
def test_nothing_is_too_wide_or_too_pale_and_every_picture_is_told(
    tab: Browser, server: LiveServer, width: int, scheme: str
) -> None:
    opened(tab, server, f"#{PERIOD}=23", width=width, scheme=scheme)
    tab.ask("document.querySelectorAll('details').forEach((it) => { it.open = true; })")

    assert tab.ask("document.documentElement.scrollWidth") <= width
    assert (
        tab.ask(
            """[...document.querySelectorAll('.picture svg')].filter((svg) => {
          const own = svg.getBoundingClientRect();
          return [...svg.querySelectorAll('text')].some((it) => {
            const box = it.getBoundingClientRect();
            return box.left < own.left - 1 || box.right > own.right + 1;
          });
        }).map((svg) => svg.ariaLabel)"""
        )
        == []
    )
    found = tab.ask(PALE)
    assert found["pale"] == []
    assert found["read"] > 100
    told = tab.ask(
        """[...document.querySelectorAll('figure')].map((it) => [it.id,
          it.querySelector('svg[role=img]').ariaLabel.length > 10,
          document.getElementById(it.querySelector('svg[role=img]')
            .getAttribute('aria-describedby')).textContent.length > 40])"""
    )
    names = ("gaps", "worst", "near", "beats", "latency", "trade-off-0")
    assert told == [[f"figure-{name}", True, True] for name in names]
