"""Headers made to do harm: they reach no other file, and end in bounds and in one line."""

import itertools
import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.c_header import _parse, struct_reader
from radiosim.c_header.abi import ABIS
from radiosim.c_header.struct_reader import read_struct
from radiosim.errors import LayoutError, ScenarioError
from radiosim.scenario.read import load_layouts
from tests.examples import examples

pytest.importorskip("clang.cindex", reason="headers need libclang, the extra `c`")

FRAME = "\nstruct Frame { unsigned char a; };\n"
SPACES = (
    "",
    " ",
    "\t",
    "\f",
    "\v",
    "\0",
    "\xa0",
    "\u2003",
    "\u3000",
    "\ufeff",
    "\u2028",
    "\x1c",
    "\r",
)
BETWEEN = (*SPACES, "\\\n", "\\ \n", "??/\n", "/**/", "/*\n*/", 'R"(', '"', "'")
HASHES = ("#", "%:", "??=", "%\\\n:")
WORDS = ("include", "include_next", "import", "embed", "__include_macros", "inc\\\nlude")
BOMB = "#define A0 int x;\n" + "".join(
    f"#define A{level + 1} {f'A{level} ' * 8}\n" for level in range(12)
)

gap = st.lists(st.sampled_from(BETWEEN), max_size=2).map("".join)


@st.composite
def reaching_out(draw: st.DrawFn, path: str) -> str:
    """A line that a compiler may take for an include of this file, or for a question about it."""
    name = draw(st.sampled_from((f'"{path}"', f"<{path}>", f'"../../../../..{path}"')))
    if draw(st.booleans()):
        before, after, last = draw(gap), draw(gap), draw(gap)
        word, mark = draw(st.sampled_from(WORDS)), draw(st.sampled_from(HASHES))
        return f"{before}{mark}{after}{word}{last}{name}\n"
    asked = draw(
        st.sampled_from(
            ("__has_include", "__has_embed", "__has_include_next", "J(__has_, include)")
        )
    )
    return f"#define J(a, b) a##b\n#if {asked}({name})\nstruct There {{ int a; }};\n#endif\n"


@pytest.fixture(scope="module")
def secret(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("elsewhere") / "secret.h"
    path.write_text("struct Secret { int kept; }; unheard_of kept;\n")
    return path


@given(data=st.data())
@examples(30)
def test_no_spelling_reads_a_file_from_elsewhere_or_tells_that_it_is_there(
    secret: Path, data: st.DataObject
) -> None:
    lines = data.draw(st.lists(reaching_out(str(secret)), min_size=1, max_size=12))
    header = "".join(f"{line}int after_{number};\n" for number, line in enumerate(lines))

    with pytest.raises(LayoutError) as caught:
        read_struct("a.h", header + FRAME, "Secret", "host")

    assert not any(word in str(caught.value) for word in ("There", "unheard_of", "kept"))


@pytest.mark.parametrize("space", [space for space in SPACES if space not in ("", "\r")])
def test_whatever_a_compiler_takes_for_a_space_is_one(space: str) -> None:
    read = read_struct(
        "a.h",
        f'{space}#{space}include{space}"size.h"\nstruct Frame {{ short a[N]; }};',
        "Frame",
        "host",
        {"size.h": "#define N 3"}.get,
    )

    assert (read.size_bytes, read.ignored) == (6, ())


def test_a_pipe_or_a_device_is_never_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")

    for name in (tmp_path / "pipe", "/dev/zero"):
        assert read_struct("a.h", f'\f#include "{name}"{FRAME}', "Frame", "host").size_bytes == 1


def test_what_was_read_from_elsewhere_all_the_same_is_refused(
    secret: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_disk = tmp_path / "disk.yaml"
    open_disk.write_text('{"version": 0, "roots": []}')
    monkeypatch.setattr(_parse, "NO_DISK", open_disk)

    with pytest.raises(LayoutError, match="must include files from beside it alone, got") as caught:
        _parse.parsed("a.h", {"/header/a.h": f'#include "{secret}"{FRAME}'}, ABIS["host"], 0)

    assert "Secret" not in str(caught.value)


@pytest.mark.slow
def test_a_macro_that_multiplies_ends_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(struct_reader, "LONGEST_S", 1)
    monkeypatch.setattr(struct_reader, "MOST_MEMORY_MB", 400)

    with pytest.raises(LayoutError) as caught:
        read_struct("bomb.h", f"{BOMB}struct Frame {{ A12 }};", "Frame", "host")

    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("bomb.h: must be ")


@pytest.mark.slow
def test_it_ends_in_a_scenario_too(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(struct_reader, "LONGEST_S", 1)
    monkeypatch.setattr(struct_reader, "MOST_MEMORY_MB", 400)
    (tmp_path / "bomb.h").write_text(f"{BOMB}struct Frame {{ A12 }};")
    scenario = tmp_path / "rover.toml"
    scenario.write_text('[layout.frame]\nheader = "bomb.h"\nstruct = "Frame"\nabi = "host"\n')

    with pytest.raises(ScenarioError, match=r"layout\.frame\.header: bomb\.h: must be "):
        load_layouts(scenario, 32)


def test_a_struct_of_too_many_numbers_is_refused() -> None:
    header = "struct Row { char a[64]; };\nstruct Frame { Row rows[65]; };"

    with pytest.raises(
        LayoutError, match=r"a\.h:2: Frame: must have at most 4096 numbers, got more"
    ):
        read_struct("a.h", header, "Frame", "host")


def test_an_interrupt_ends_the_parsers_process(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[subprocess.Popen[bytes]] = []

    class Interrupted(subprocess.Popen):  # type: ignore[type-arg]
        def communicate(self, *_: Any, **__: Any) -> Any:
            started.append(self)
            raise KeyboardInterrupt

    monkeypatch.setattr(subprocess, "Popen", Interrupted)

    with pytest.raises(KeyboardInterrupt):
        read_struct("a.h", f"{BOMB}struct Frame {{ A12 }};", "Frame", "host")

    assert started[0].returncode is not None


def test_the_parsers_process_ends_with_whoever_asked() -> None:
    header = "struct E {}; struct Frame { E a[4096][4096][4096]; };"  # looked at for minutes
    request = (
        f'{{"main": "a.h", "files": {{"/header/a.h": "{header}"}}, "ignored": [], '
        '"struct": "Frame", "targets": ["host"]}\n'
    )
    command = [sys.executable, "-c", struct_reader._RUN, "600", "800", *filter(None, sys.path)]

    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdin is not None
        process.stdin.write(request.encode())
        process.stdin.close()
        assert process.wait() == 1


@given(
    pieces=st.lists(
        st.sampled_from(
            [
                *BETWEEN,
                "#",
                "include",
                "struct",
                "Frame",
                "{",
                "}",
                ";",
                "int",
                "a",
                "(",
                ")",
                "\n",
                ",",
            ]
        ),
        max_size=60,
    )
)
@examples(60)
def test_any_text_is_read_or_refused(pieces: list[str]) -> None:
    with suppress(LayoutError):
        assert read_struct("a.h", "".join(pieces) + FRAME, "Frame", "avr").fields


def test_every_target_is_read_by_one_process(monkeypatch: pytest.MonkeyPatch) -> None:
    count = itertools.count()
    plain = subprocess.Popen

    def counted(*args: Any, **more: Any) -> Any:
        next(count)
        return plain(*args, **more)

    monkeypatch.setattr(subprocess, "Popen", counted)
    struct_reader.read_structs("a.h", FRAME, "Frame")

    assert next(count) == 1


def test_a_header_is_read_in_little_memory() -> None:
    program = (
        "import resource; from radiosim.c_header.parser_process import _limit; _limit(9, 800); "
        "print(resource.getrlimit(resource.RLIMIT_AS)[0], "
        "resource.getrlimit(resource.RLIMIT_CPU)[0])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )

    assert done.stdout.split() == ["800000000", "9"]
