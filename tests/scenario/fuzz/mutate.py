"""Scenarios made wrong on purpose: small changes of a text, one upon another."""

import re
from collections.abc import Callable
from random import Random

from radiosim.scenario.schema import NAME, NUMBER
from tests.scenario.fuzz.by_schema import setting
from tests.scenario.fuzz.corpus import Corpus

Mutation = Callable[[bytes, Random, Corpus], bytes]

LARGEST_BYTES = 60_000
_MOST_CHANGES = 5
_NUMBER = re.compile(rb"(?<![\w.\"-])[-+]?\d[\d_]*(?:\.\d+)?(?:e[-+]?\d+)?(?![\w.])")
_STRING = re.compile(rb'"[^"\n]*"')
_VALUE = re.compile(rb"""(?<==)\s*("[^"\n]*"|\[[^\n]*?\]|\{[^\n]*?\}|[^\s,\]}#="\[{]+)""")
_KEY = re.compile(rb"[A-Za-z_][\w-]*(?=\s*[=.\]])")
_NAME = re.compile(rb"(?:transmitter|layout|output|failsafe|name = \")[.]?([A-Za-z_]\w*)")

EDGES = (
    *(b"0 -0 0.0 -0.0 1 -1 2 7 0.5 1e-9 1e-300 5e-324 1e9 1.0000001e9 999999999.9 1e300".split()),
    *(b"-1e300 1e308 1e309 nan -nan inf -inf 127 128 255 256 32767 65536 2147483648".split()),
    *(b"9223372036854775807 9223372036854775808 18446744073709551615".split()),
    *(b"18446744073709551616 -9223372036854775809 0x1F 0b1 0o7 1_000 true false".split()),
    *(b'"" "drawn" "own" "none" "link" "hold" "off" [] {} [[]] [{}] [0,0] [nan,inf]'.split()),
    *(b"1979-05-27 07:32:00 1979-05-27T07:32:00Z 0.0000001 3.3333333333333333 1e18 4e9".split()),
    b"9" * 400,
    b"9" * 5_000,
    b"0." + b"1" * 400,
    b'"' + b"x" * 3_000 + b'"',
    b"[" * 30 + b"]" * 30,
)
ODD = (
    *(bytes([code]) for code in (0, 7, 8, 9, 10, 11, 13, 27, 31, 32, 34, 35, 39, 92, 127)),
    *(text.encode() for text in ("é", "ß", "№", "\u202e", "\u200b", "\u2028", "\ufeff", "😀", "ﬁ")),
    *(b"\xff \xc3 \xed\xa0\x80 \xf4\x90\x80\x80 \xc0\x80".split()),
    *(rb"\u0000 \u001b[2J \U0010FFFF \ud800 \x41 \" \\ \e".split()),
    *(b"\"\"\" ''' [[ ]] [ ] { } = == . .. , ,, # \r\n".split(b" ")),
)


def mutant(random: Random, corpus: Corpus) -> bytes:
    """A scenario with one or a few changes."""
    text = corpus.begin(random)
    for _ in range(min(1 + int(random.expovariate(0.9)), _MOST_CHANGES)):
        text = random.choice(MUTATIONS)(text, random, corpus)
    return text[:LARGEST_BYTES]


def override(random: Random, corpus: Corpus) -> str:
    """A `KEY=VALUE`, some of them none."""
    if random.random() < 0.8:
        return "=".join(setting(random))
    text = _written(corpus.begin(random), random, corpus)
    if random.random() < 0.5:
        text = _odd(text, random, corpus)
    return text.decode("utf-8", "replace")


def nearly_sound(random: Random, corpus: Corpus) -> tuple[bytes, tuple[str, ...]]:
    """A sound scenario with a few keys set to what the structs allow there."""
    text = random.choice(corpus.sound)
    return text, tuple("=".join(setting(random)) for _ in range(random.choice((1, 1, 2, 3))))


def _put(text: bytes, found: re.Match[bytes] | None, new: bytes, group: int = 0) -> bytes:
    return text if found is None else text[: found.start(group)] + new + text[found.end(group) :]


def _any(pattern: re.Pattern[bytes], text: bytes, random: Random) -> re.Match[bytes] | None:
    found = list(pattern.finditer(text))
    return random.choice(found) if found else None


def _edge_number(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    return _put(text, _any(_NUMBER, text, random), random.choice(EDGES))


def _nudged_number(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    """A number that may well still be allowed."""
    found = _any(_NUMBER, text, random)
    if found is None:
        return text
    value = float(found[0].replace(b"_", b""))
    factor = random.choice((-1.0, 0.0, 1e-6, 1e-3, 0.1, 0.5, 0.999, 1.001, 2.0, 10.0, 1e3, 1e6))
    new = value * factor + random.choice((0.0, 0.0, 1.0, -1.0, 1e-6))
    return _put(text, found, (f"{new:.12g}" if b"." in found[0] else f"{new:.0f}").encode())


def _other_value(text: bytes, random: Random, corpus: Corpus) -> bytes:
    new = random.choice((EDGES, corpus.values, corpus.values))
    return _put(text, _any(_VALUE, text, random), random.choice(new), 1)


def _other_string(text: bytes, random: Random, corpus: Corpus) -> bytes:
    return _put(text, _any(_STRING, text, random), b'"%s"' % random.choice(corpus.words))


def _other_name(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    """A string that names something of the scenario."""
    names = _NAME.findall(text)
    new = random.choice(names) if names else b"x"
    return _put(text, _any(_STRING, text, random), b'"%s"' % new)


def _other_key(text: bytes, random: Random, corpus: Corpus) -> bytes:
    return _put(text, _any(_KEY, text, random), random.choice(corpus.words))


def _swapped_keys(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    found = list(_KEY.finditer(text))
    if len(found) < 2:
        return text
    at = random.randrange(len(found) - 1)
    first, second = found[at], found[at + 1]
    return _put(_put(text, second, first[0]), first, second[0])


def _written(text: bytes, random: Random, corpus: Corpus) -> bytes:
    """Some key of the schema with its whole path, for names of the text, and a value."""
    names = _NAME.findall(text)
    steps: list[bytes] = []
    for step in random.choice(corpus.paths):
        if step == NUMBER:
            steps[-1] += b"[%d]" % random.choice((0, 0, 0, 1, 2))
        elif step == NAME:
            steps.append(random.choice(names) if names else b"a")
        else:
            steps.append(step.encode())
    return b".".join(steps) + b"=" + _value(random, corpus)


def _value(random: Random, corpus: Corpus) -> bytes:
    kinds = (EDGES, corpus.values, corpus.values, [b'"%s"' % random.choice(corpus.words)])
    return random.choice(random.choice(kinds))


def _one_more_key(text: bytes, random: Random, corpus: Corpus) -> bytes:
    """A key that the schema has, at the top, on a line of its own or in a table on one line."""
    place = random.randrange(3)
    if place == 0:
        return _written(text, random, corpus).replace(b"[0]", b"") + b"\n" + text
    pair = random.choice(corpus.paths)[-1].encode() + b" = " + _value(random, corpus)
    if place == 1:
        lines = text.split(b"\n")
        lines.insert(random.randrange(len(lines) + 1), pair)
        return b"\n".join(lines)
    found = _any(re.compile(rb"\{(?=[^}\n])"), text, random)
    return _put(text, found, b"{ " + pair + b", ")


def _swapped_lines(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    lines = text.split(b"\n")
    one, two = random.randrange(len(lines)), random.randrange(len(lines))
    lines[one], lines[two] = lines[two], lines[one]
    return b"\n".join(lines)


def _without_lines(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    lines = text.split(b"\n")
    at = random.randrange(len(lines))
    del lines[at : at + random.choice((1, 1, 1, 2, 8))]
    return b"\n".join(lines)


def _repeated_lines(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    lines = text.split(b"\n")
    at = random.randrange(len(lines))
    part = lines[at : at + random.choice((1, 1, 2, 5))]
    lines[at:at] = part * random.choice((1, 1, 1, 1, 2, 7, 120))
    return b"\n".join(lines)


def _borrowed_lines(text: bytes, random: Random, corpus: Corpus) -> bytes:
    lines, others = text.split(b"\n"), corpus.other(random).split(b"\n")
    at, begin = random.randrange(len(lines) + 1), random.randrange(len(others))
    lines[at:at] = others[begin : begin + random.choice((1, 1, 3, 10))]
    return b"\n".join(lines)


def _spliced(text: bytes, random: Random, corpus: Corpus) -> bytes:
    other = corpus.other(random)
    cuts = [random.randrange(len(part) + 1) for part in (text, other)]
    if random.random() < 0.7:
        cuts = [part.rfind(b"\n", 0, at) + 1 for part, at in zip((text, other), cuts, strict=True)]
    return text[: cuts[0]] + other[cuts[1] :]


def _cut(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    at = random.randrange(len(text) + 1)
    return text[:at] if random.random() < 0.7 else text[at:]


def _without_bytes(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    at = random.randrange(len(text) + 1)
    return text[:at] + text[at + random.choice((1, 1, 2, 5, 40)) :]


def _flipped_byte(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    if not text:
        return text
    at = random.randrange(len(text))
    return text[:at] + bytes([random.randrange(256)]) + text[at + 1 :]


def _odd(text: bytes, random: Random, _corpus: Corpus) -> bytes:
    """Bytes that steer a terminal, end a line, open a bracket or are no text, mostly in strings."""
    found = _any(_STRING, text, random) if random.random() < 0.6 else None
    low, high = (found.start() + 1, found.end() - 1) if found else (0, len(text))
    at = random.randint(low, max(low, high))
    return text[:at] + random.choice(ODD) * random.choice((1, 1, 1, 2, 300)) + text[at:]


MUTATIONS: tuple[Mutation, ...] = (
    *(_edge_number, _nudged_number, _nudged_number, _nudged_number, _other_value),
    *(_other_value, _other_string, _other_name, _other_key, _swapped_keys, _one_more_key),
    *(_one_more_key, _one_more_key, _swapped_lines, _without_lines, _repeated_lines),
    *(_borrowed_lines, _spliced, _cut, _without_bytes, _flipped_byte, _odd),
)
