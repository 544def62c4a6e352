"""What an installed radiosim says and writes in the surroundings that users have."""

import os
import subprocess
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

NOBODY = 65534
RUN = "run smallest --json run.json --csv tables --page page.html --workers 2 --starts 40"
COMMANDS = (
    RUN,
    "run smallest --json again.json --waveform worst.vcd --duration-s 20",
    "failsafe smallest --repeats 2 --hours 0.01 --json drill.json --junit junit.xml",
    "tune smallest --points 3 --starts 2 --duration-s 5 --json tune.json --emit settings.h",
    "range smallest --set air.range.distance_m=10 --points 3 --duration-s 5 --json range.json",
    "bench-test smallest --starts 3 --minutes 0.05 --json sheet.json",
)
USUAL = "as usual"
SURROUNDINGS: dict[str, Mapping[str, str | None]] = {
    USUAL: {},
    "no HOME": {"HOME": None},
    "read-only home": {},
    "LANG=C": {"LANG": "C", "LC_ALL": "C"},
    "TERM=dumb": {"TERM": "dumb"},
    "20 columns": {"COLUMNS": "20"},
    "300 columns": {"COLUMNS": "300"},
}
_COMPILES = "compiling the engine, this once: some seconds"
_TELLS_FILES = "wrote "
_NOT_KEPT = "cannot be kept"
_KEEPS_NOTHING = ("no HOME", "read-only home")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What came of one surrounding."""

    wrongs: tuple[str, ...]
    results: Mapping[str, bytes]
    """The JSON written, by file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class User:
    """Somebody who may write to folders of their own alone."""

    text: str
    before: tuple[str, ...]
    """What a command is started with."""
    number: int | None
    """Of the user; None: whoever tries."""


def another_user(python: Path) -> User:
    """Nobody, where they can reach a Python; else whoever tries, without the rights of root."""
    if os.geteuid() != 0:
        return User(text="this user", before=(), number=None)
    with suppress(PermissionError):
        asked = [str(python), "-c", "import radiosim"]
        if subprocess.run(asked, user=NOBODY, group=NOBODY, cwd="/", check=False).returncode == 0:
            return User(text="nobody", before=(), number=NOBODY)
    return User(text="root without rights", before=("setpriv", "--bounding-set=-all"), number=None)


def tried(python: Path, user: User, folder: Path, name: str) -> Tried:
    """Commands in a surrounding; all of them in the usual one, else a run."""
    # One that cannot be written to has nothing compiled in it.
    home = folder / ("read-only home" if name == "read-only home" else "home")
    work = folder / f"{name} work"
    for place in (home, work):
        place.mkdir(parents=True, exist_ok=True)
        if user.number is not None:
            os.chown(place, user.number, user.number)
    home.chmod(0o500 if name == "read-only home" else 0o700)
    env = {"PATH": "/usr/bin:/bin", "HOME": str(home), "LANG": "C.UTF-8"}
    for key, value in SURROUNDINGS[name].items():
        env.pop(key, None)
        env |= {} if value is None else {key: value}
    wrongs = []
    for number, words in enumerate(COMMANDS if name == USUAL else (RUN,)):
        done = subprocess.run(
            [*user.before, str(python.with_name("radiosim")), *words.split()],
            cwd=work,
            env=env,
            user=user.number,
            group=user.number,
            capture_output=True,
            check=False,
        )
        # Each command makes what it takes, the first time; a second run makes nothing.
        compiles = name in _KEEPS_NOTHING or (name == USUAL and number != 1)
        wrongs += [f"{words.split()[0]}: {wrong}" for wrong in _wrongs(done, name, compiles)]
    results = {path.name: path.read_bytes() for path in sorted(work.glob("*.json"))}
    return Tried(wrongs=tuple(wrongs), results=results)


def _wrongs(done: "subprocess.CompletedProcess[bytes]", name: str, compiles: bool) -> Iterator[str]:
    if done.returncode not in (0, 1):
        yield f"code {done.returncode}"
    try:
        out, said = done.stdout.decode(), done.stderr.decode()
    except UnicodeDecodeError as error:
        yield f"wrote no UTF-8: {error}"
        return
    if not out.strip():
        yield "printed nothing"
    if (name == "LANG=C") and not out.isascii():
        yield "printed what a terminal of LANG=C cannot show"
    if "\x1b" in out + said:
        yield "steers what is no terminal"
    left = [
        line
        for line in said.splitlines()
        if not (compiles and line == _COMPILES) and not line.startswith(_TELLS_FILES)
    ]
    if name in _KEEPS_NOTHING:
        left = [line for line in left if _NOT_KEPT not in line] + (
            [] if said.count(_NOT_KEPT) <= 1 else [f"said {said.count(_NOT_KEPT)} times: {said}"]
        )
    yield from (f"said {line!r}" for line in left)
