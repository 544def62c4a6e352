import os
import subprocess
import sys
from pathlib import Path

import pytest

import radiosim
from radiosim.version import VERSION
from tests.cli.typed import tiny, typed

HEAVY = ("scipy", "numpy", "matplotlib", "llvmlite", "rich", "simpy", "msgspec", "jinja2")


def loaded_by(code: str) -> list[str]:
    """Those of the heavy libraries that are loaded after the code ran in a fresh Python."""
    after = f"import sys; print(*[n for n in {HEAVY} if n in sys.modules], file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{after}"], capture_output=True, text=True, check=True
    )
    return done.stderr.split()


def test_importing_loads_nothing_heavy() -> None:
    assert loaded_by("import radiosim") == []


def test_help_loads_nothing_heavy() -> None:
    code = "import sys; sys.argv = ['radiosim', '--help']\nfrom radiosim.cli.main import main\n"

    assert loaded_by(f"{code}try: main()\nexcept SystemExit: pass") == []


def test_public_names_are_sorted_and_can_be_imported() -> None:
    assert sorted(radiosim.__all__) == radiosim.__all__
    for name in radiosim.__all__:
        assert getattr(radiosim, name) is not None
    assert radiosim.__version__ == VERSION


def test_another_name_is_no_attribute() -> None:
    with pytest.raises(AttributeError, match="module 'radiosim' has no attribute 'frobnicate'"):
        radiosim.frobnicate  # noqa: B018


def test_a_scenario_goes_through_python(tmp_path: Path) -> None:
    scenario = radiosim.load(tiny(tmp_path))
    summary = radiosim.summarise(radiosim.simulate(scenario, seed=0, start=1))

    assert (summary.seed, summary.start) == (0, 1)
    assert summary.figures.stream["drive"].sampled == 100


def test_version_is_printed() -> None:
    assert typed("--version").out == f"radiosim {VERSION}\n"


def run_module(*arguments: str, **options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "radiosim", *arguments],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, **options},
    )


def test_the_module_is_the_command(tmp_path: Path) -> None:
    done = run_module("validate", str(tiny(tmp_path)))

    assert done.returncode == 0
    assert done.stdout.startswith(f"{tmp_path / 'tiny.toml'}: ok")


@pytest.mark.slow
def test_a_terminal_that_lacks_a_letter_shows_another(tmp_path: Path) -> None:
    given = str(tiny(tmp_path))
    options = ("--starts", "1", "--set", 'title="Gräben"')
    done = run_module("run", given, *options, PYTHONIOENCODING="ascii")

    assert done.returncode == 0
    assert done.stdout.startswith("Gr?ben: start 0, 2 s")


def test_a_refusal_is_no_traceback() -> None:
    done = run_module("run", "no-such.toml")

    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1


def test_a_reader_that_goes_away_is_no_traceback() -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    with os.fdopen(write_end, "wb") as gone:
        done = subprocess.run(
            [sys.executable, "-m", "radiosim", "schema"],
            stdout=gone,
            stderr=subprocess.PIPE,
            check=False,
        )

    assert (done.returncode, done.stderr) == (141, b"")


def python(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)


@pytest.mark.parametrize("closed", [">&-", ">&- 2>&-"])
@pytest.mark.parametrize(("command", "code"), [("schema", 141), ("validate no-such.toml", 2)])
def test_a_closed_output_is_a_reader_that_went_away(closed: str, command: str, code: int) -> None:
    done = subprocess.run(
        ["sh", "-c", f'"$0" -m radiosim {command} {closed}', sys.executable],
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == code
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_results_are_written_although_nobody_reads_the_report(tmp_path: Path) -> None:
    results = tmp_path / "results.json"
    options = f"--starts 1 --engine reference --json {results}"
    done = subprocess.run(
        ["sh", "-c", f'"$0" -m radiosim run {tiny(tmp_path)} {options} >&-', sys.executable],
        capture_output=True,
        text=True,
        check=False,
    )

    assert (done.returncode, done.stderr) == (141, "")
    assert results.read_text(encoding="utf-8").startswith("{")


def test_the_user_can_stop_it_while_it_loads() -> None:
    done = python(
        """
import sys
from radiosim.cli.main import main

class Stop:
    def find_spec(self, name, *_):
        if name == "typer":
            raise KeyboardInterrupt

sys.meta_path.insert(0, Stop())
main()
"""
    )

    assert (done.returncode, done.stdout, done.stderr) == (130, "", "stopped\n")


@pytest.mark.parametrize(("name", "code"), [("SIGINT", 130), ("SIGTERM", 143), ("SIGHUP", 129)])
def test_a_signal_ends_it_at_once_and_what_it_would_leave_is_gone(
    tmp_path: Path, name: str, code: int
) -> None:
    # Raised where Python lets no exception through.
    done = python(
        f"""
import signal
from pathlib import Path
from radiosim.cli.console import expect_ends
from radiosim.endings import taken_away_at_an_end

# The tests themselves may have been started with it ignored, as a job in the background is.
signal.signal(signal.{name}, signal.SIG_DFL)
expect_ends()

class Last:
    def __del__(self):
        signal.raise_signal(signal.{name})

half = Path({str(tmp_path)!r}, "half")
half.write_text("h")
with taken_away_at_an_end(half.unlink):
    last = Last()
    del last
print("swallowed")
"""
    )

    assert (done.returncode, done.stdout, done.stderr) == (code, "", "stopped\n")
    assert not list(tmp_path.iterdir())


def test_a_signal_that_was_ignored_before_stays_ignored() -> None:
    done = python(
        """
import signal
from radiosim.cli.console import expect_ends

signal.signal(signal.SIGINT, signal.SIG_IGN)
expect_ends()
signal.raise_signal(signal.SIGINT)
print("goes on")
"""
    )

    assert (done.returncode, done.stdout, done.stderr) == (0, "goes on\n", "")


@pytest.mark.slow
def test_without_colour_there_is_no_escape_code_at_all(tmp_path: Path) -> None:
    command = ("run", str(tiny(tmp_path)), "--starts", "1", "--engine", "reference")
    forced = {"FORCE_COLOR": "1", "TERM": "xterm"}

    assert "\x1b[" in run_module(*command, **forced).stdout
    assert "\x1b[" not in run_module(*command, **forced, NO_COLOR="1").stdout


@pytest.mark.parametrize("arguments", ["--help", "run --help", "--version", "layout --help"])
def test_help_that_nobody_reads_ends_quietly(arguments: str) -> None:
    done = subprocess.run(
        ["sh", "-c", f'"$0" -m radiosim {arguments} >&-', sys.executable],
        capture_output=True,
        check=False,
    )

    assert (done.returncode, done.stderr) == (141, b"")


def in_a_shell(command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["sh", "-c", f'"$0" -m radiosim {command}', sys.executable],
        capture_output=True,
        text=True,
        check=False,
    )


full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is full")


@full
@pytest.mark.parametrize("arguments", ["--help", "run --help", "--version", "schema"])
def test_a_full_disk_under_the_output_is_told_in_one_line(arguments: str) -> None:
    done = in_a_shell(f"{arguments} >/dev/full")

    assert (done.returncode, done.stderr) == (2, "output: No space left on device\n")


@full
@pytest.mark.parametrize("arguments", ["run no-such.toml", "run --nope", "validate no-such.toml"])
def test_a_refusal_that_cannot_be_told_is_a_refusal(arguments: str) -> None:
    assert in_a_shell(f"{arguments} 2>/dev/full").returncode == 2


@full
def test_a_note_that_cannot_be_told_stops_nothing(tmp_path: Path) -> None:
    done = in_a_shell(f"scenarios smallest --to {tmp_path} 2>/dev/full")

    assert done.returncode == 0
    assert (tmp_path / "smallest.toml").exists()


def test_a_closed_input_has_no_answers(tmp_path: Path) -> None:
    done = in_a_shell(f"new {tmp_path / 'my.toml'} <&-")

    assert done.returncode == 2
    assert "answer 1, drives: must be given, got the end of the input" in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_name_that_is_too_long_leaves_room_for_what_is_wrong(tmp_path: Path) -> None:
    name = "x" * 5_000
    for arguments in (
        ("run", name),
        ("validate", name),
        ("validate", tiny(tmp_path), "--json", name),
    ):
        done = typed(*arguments)
        assert (done.code, done.err.count("\n"), len(done.err) < 300) == (2, 1, True)
        assert done.err.endswith(": File name too long\n")
