"""Hostile batch files and profiles: good pages spoiled by accident or by malice, each from a number of its own.

    python tests/hostile.py batch 2000     every page read, and planned where it can be; counts, slowest, memory

A page is bytes, as a disk may hold them. ``outcome`` is what the course makes of it.
"""

from __future__ import annotations

import collections
import contextlib
import io
import json
import random
import sys
import tempfile
import time
from functools import cache, partial
from pathlib import Path
from unittest import mock

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE)]
FEW = 8  # members: whether there is a plan, not how sure it is
SIGNS = "aZ09 .,;:=+-_/\\'\"#[]{}()<>&%$@!?*^~|`\t\n\r\0\x07\x1b\x7f\x85é½°µ²ßıİΩжא中한\u00a0\u00ad\u0301\u200b\u200f\u202e\u2028\u2212\ufeff\ufffd𝟙😀"
AMOUNTS = (
    "0 g", "-1 kg", "1e400 kg", "1e-400 kg", "9" * 60 + " kg", "0.0000001 g", "1/0 kg", "1/3 kg", "½½ cup", "½ lb", "1 1/2",
    "NaN g", "inf °C", "-0 °C", "-273.15 °C", "-273.16 °C", "60 C", "１２ g", "١٢ g", "12 Ω", "12\u202e g", "1,5 L", "1,500 g",
    "1'000 g", "3 lb 4 oz", "6-8 mm", "0x10 g", "1_000 g", "", " ", "\t", "g", "not known", "Not Known ", "2 g" + " " * 90, "°", "ﬁve g",
    "200 kg", "0.02 kg", "2 mm", "50 mm", "30 days", "80 °C", "5 °C", "4500 m", "10000 W", "1e5 cm2", "1 m3/s",
    "half an hour", "1h30", "1 h 90 min", "2 lb 3 oz", "165F", "63 K", "overnight", "a couple of h", "2-3 h", "about 2 kg", "12 x 14 in",
    "-12 x -14 in", "33 cm round", "9" * 30 + " x " + "9" * 20 + " m", "twenty-" * 9 + "one g", "a" * 60, "a thousand thousand kg", "1/2 of a of a g",
)  # fmt: skip
VALUES = (
    "true", "false", "0", "-0", "1", "2", "-1", "0.5", "1e308", "-1e308", "1e-308", "5e-324", "nan", "-nan", "inf", "-inf", "1e400",
    "9223372036854775807", "9223372036854775808", "9" * 400, "9" * 3900, "0x" + "f" * 3900, "0o7", "0b1", "1_000", "1979-05-27",
    "1979-05-27T07:32:00Z", "07:32:00", "9999-12-31T23:59:60Z", "[]", "{}", "[1, 'a', [2]]", "{ a = 1 }", "[[1, 0], [0, 1]]", '""',
    "''", '"""\n"""', '"\\u0000"', '"\\U0010ffff"', '"\\ud800"', '"\\x41"', "3 g", "~", "None", "", "= 3", "[" * 30, "{ a = " * 30, '"' + "x" * 4500 + '"',
    '"' + "x" * 600 + '"', "[" + "1, " * 900 + "]",
)  # fmt: skip


@cache
def good_pages(kind: str) -> tuple[str, ...]:
    """Pages that are read as they stand."""
    import tomli_w
    from random_batches import odd_typed, random_typed

    if kind == "profile":
        return ((HERE / "old_files" / "heron-dryer.toml").read_text(encoding="utf-8"), LEAST_PROFILE)
    demo = [path.read_text(encoding="utf-8") for path in sorted((HERE.parent / "data_demo").glob("*.toml"))]
    made = [tomli_w.dumps(make(random.Random(seed))) for make in (random_typed, odd_typed) for seed in range(20)]
    return (*demo, *made)


LEAST_PROFILE = 'title = "box"\nbatches = ["Heron"]\n[learned."air speed"]\nshift = -0.3\nwidth = 0.8\n[learned.thickness]\nshift = 0.1\nwidth = 0.9\n[together]\ncorrelation = [[1, 0.5], [0.5, 1]]\n'


def page(kind: str, seed: int) -> bytes:
    """The hostile page with a number: a good one spoiled in one to three ways, or one that stands at all its limits."""
    luck = random.Random(f"{kind} {seed}")
    if luck.random() < 0.4:
        return {"batch": _batch_at_its_limits, "profile": _profile_at_its_limits}[kind](luck).encode("utf-8")
    text = luck.choice(good_pages(kind))
    for spoil in luck.choices(IN_TEXT, k=luck.choice((1, 1, 1, 2, 3))):
        text = spoil(luck, text)
    content = text.encode("utf-8", "surrogatepass")
    return luck.choice(IN_BYTES)(luck, content) if luck.random() < 0.25 else content


# Pages whose every field may pass, most of them at its end


def _batch_at_its_limits(luck) -> str:
    import tomli_w
    from random_batches import odd_typed

    from flakeyard.steps.intent.fields import FIELDS, LISTS, SOAKS

    typed = odd_typed(luck)
    for _ in range(luck.choice((1, 3, 8, 30))):
        name = luck.choice([name for name in FIELDS if name])
        section = typed.setdefault(name, [] if name in LISTS else {})
        if name in LISTS:
            section.append({})
            section = luck.choice(section)
        needed = [key for key, kind in FIELDS[name].items() if kind.needed and key not in section]
        for key in [*needed, *luck.sample(list(FIELDS[name]), luck.randint(1, len(FIELDS[name])))]:
            section[key] = at_its_limit(luck, FIELDS[name][key], key)
        if name in SOAKS:
            section.setdefault("ingredient", []).append(_ingredient_at_its_limits(luck))
    return tomli_w.dumps(typed)


def _ingredient_at_its_limits(luck) -> dict:
    from flakeyard.steps.intent.fields import INGREDIENT

    told = [
        "what",
        "amount",
        *luck.sample(["one_cup_weighs", "brix", "recipe_sugar", "recipe_liquid"], luck.choice((0, 0, 1, 2))),
    ]
    return {key: at_its_limit(luck, INGREDIENT[key], key) for key in told}


def at_its_limit(luck, kind, key: str):
    """A value for a field of a batch file, more often at an end of what is allowed than inside."""
    from flakeyard import tables
    from flakeyard.steps.intent import fields

    names = {"species": tables.all_species(), "pack": tables.packs(), "what": tables.ingredients()}
    if key in names:
        return luck.choice(names[key]).id
    if isinstance(kind, fields.OneOf):
        return luck.choice(kind.words)
    if isinstance(kind, fields.Flag):
        return luck.random() < 0.5
    if isinstance(kind, fields.Number):
        value = _between(luck, kind.low, kind.high)
        return round(value) if kind.whole else value
    if isinstance(kind, fields.Measure):
        of = luck.choice((kind.kinds,) if isinstance(kind.kinds, str) else kind.kinds)
        high = kind.high[of] if isinstance(kind.high, dict) else kind.high
        unit, size = fields.WRITTEN_IN[of]
        return f"{_between(luck, 1e-6 * high if kind.low is None else kind.low, high) / size:.12f} {unit}"
    return "".join(luck.choice(SIGNS) for _ in range(20))


def _between(luck, low: float, high: float) -> float:
    part = luck.choice((0.0, 0.0, 1.0, 1.0, luck.random(), luck.random() ** 6, 1.0 - luck.random() ** 6))
    return min(max(low + part * (high - low), low), high)


def _profile_at_its_limits(luck) -> str:
    import numpy as np
    import tomli_w

    from flakeyard.steps.learn.dryer_profile import FARTHEST, KEPT, SUREST

    names = luck.sample(list(KEPT), luck.randint(1, len(KEPT)))
    learned = {
        name: {"shift": _between(luck, -FARTHEST, FARTHEST), "width": _between(luck, SUREST, 1.5)} for name in names
    }
    rows = np.array(
        [[luck.gauss(0, 1) for _ in range(luck.choice((1, 3, 30)))] for _ in names][: len(names)], dtype=object
    )
    width = min(map(len, rows))
    points = np.array([row[:width] for row in rows], float)
    points /= np.linalg.norm(points, axis=1, keepdims=True)
    correlation = np.clip(points @ points.T, -1, 1) * (1 - np.eye(len(names))) + np.eye(len(names))
    correlation[luck.randrange(len(names)), luck.randrange(len(names))] *= luck.choice((1, 1, 1, 1, -1, 3))
    return tomli_w.dumps(
        {"title": "box", "batches": [], "learned": learned, "together": {"correlation": correlation.tolist()}}
    )


# Ways to spoil a text


def _lines(luck, text: str) -> tuple[list[str], int]:
    """The lines of a text, and one of them that holds a value, if any does."""
    lines = text.split("\n") or [""]
    told = [number for number, line in enumerate(lines) if "=" in line] or [0]
    return lines, luck.choice(told)


def _other_value(luck, text: str) -> str:
    lines, at = _lines(luck, text)
    lines[at] = f"{lines[at].partition('=')[0]}= {luck.choice(VALUES)}"
    return "\n".join(lines)


def _other_amount(luck, text: str) -> str:
    lines, at = _lines(luck, text)
    lines[at] = f"{lines[at].partition('=')[0]}= {json.dumps(luck.choice(AMOUNTS), ensure_ascii=luck.random() < 0.5)}"
    return "\n".join(lines)


def _other_number(luck, text: str) -> str:
    """A number that might pass: the digits of a line drawn anew."""
    lines, at = _lines(luck, text)
    name, _, value = lines[at].partition("=")
    drawn = "".join(luck.choice("0123456789") if sign.isdigit() and luck.random() < 0.7 else sign for sign in value)
    lines[at] = f"{name}={drawn}"
    return "\n".join(lines)


def _odd_text(luck, text: str) -> str:
    lines, at = _lines(luck, text)
    odd = "".join(luck.choice(SIGNS) for _ in range(luck.choice((1, 3, 30, 300, 3000))))
    lines[at] = f"{lines[at].partition('=')[0]}= {json.dumps(odd, ensure_ascii=luck.random() < 0.5)}"
    return "\n".join(lines)


def _signs(luck, text: str) -> str:
    for _ in range(luck.randint(1, 8)):
        at = luck.randint(0, len(text))
        text = text[:at] + luck.choice(SIGNS) * luck.choice((1, 1, 1, 5)) + text[at + luck.randint(0, 2) :]
    return text


def _line_gone(luck, text: str) -> str:
    lines = text.split("\n")
    for _ in range(luck.randint(1, 4)):
        del lines[luck.randrange(len(lines)) :][:1]
        lines = lines or [""]
    return "\n".join(lines)


def _line_twice(luck, text: str) -> str:
    lines = text.split("\n")
    at = luck.randrange(len(lines))
    lines[luck.randint(0, len(lines)) : 0] = [lines[at]] * luck.choice((1, 1, 2, 50))
    return "\n".join(lines)


def _shuffled(luck, text: str) -> str:
    lines = text.split("\n")
    first, second = sorted(luck.randint(0, len(lines)) for _ in range(2))
    some = lines[first:second]
    luck.shuffle(some)
    return "\n".join([*lines[:first], *some, *lines[second:]])


def _section(luck, text: str) -> str:
    """A section made a value, a list, a part of another, or there twice."""
    names = [line.strip("[] ") for line in text.split("\n") if line.startswith("[")] or ["a"]
    name, other = luck.choice(names), luck.choice(names)
    new = (f"{name} = 3", f"{name} = []", f"{name} = [3]", f"{name} = {{}}", f"[{name}]", f"[[{name}]]", f"[{other}.{name}]", f"[{name}]\n{name} = 1", f'["{name}"]')  # fmt: skip
    old = luck.choice((f"[{name}]", f"[[{name}]]"))
    return text.replace(old, luck.choice(new)) if luck.random() < 0.6 else luck.choice(new) + "\n" + text


def _renamed(luck, text: str) -> str:
    lines, at = _lines(luck, text)
    names = [
        "",
        "''",
        '"a b"',
        "a.b.c",
        "é",
        "__class__",
        "title",
        "serving",
        "x" * 900,
        '"\\u0000"',
        '"\\n"',
        "run",
        "typed",
        "1.2",
        "-",
    ]
    lines[at] = f"{luck.choice(names)} = {lines[at].partition('=')[2]}"
    return "\n".join(lines)


def _deep(luck, text: str) -> str:
    depth = luck.choice((5, 19, 20, 21, 22, 200, 3000, 100_000))
    left, right = luck.choice((("[", "]"), ("{ a = ", "}"), ("[{ a = ", "}]"), ("[", ""), ("", "]")))
    return _put(luck, text, f"deep = {left * depth}1{right * depth}")


def _dotted(luck, text: str) -> str:
    count = luck.choice((5, 19, 20, 21, 300, 1000, 40_000))
    name = luck.choice(("a", '""', "'.'", "a ", "x" * 30))
    return _put(
        luck, text, luck.choice(("{} = 1", "[{}]", "[[{}]]", "a = {{ {} = 1 }}")).format(".".join([name] * count))
    )


def _long(luck, text: str) -> str:
    count = luck.choice((100, 1000, 3000, 30_000))
    line = luck.choice(
        ("# long", "a{} = 1", "[[freshen]]", "[[brine.ingredient]]", "", "[b{}]", "c = 'x'", "\\", '"""')
    )
    return _put(luck, text, "\n".join(line.replace("{}", str(number)) for number in range(count)))


def _open_text(luck, text: str) -> str:
    return _put(luck, text, luck.choice(("'", '"', "'''", '"""', 'a = """', "a = '''", "a = '''''", 'a = """"', '"\\')))


def _put(luck, text: str, more: str) -> str:
    lines = text.split("\n")
    lines.insert(luck.choice((0, len(lines), luck.randint(0, len(lines)))), more)
    return "\n".join(lines)


def _cut(luck, text: str) -> str:
    return text[: luck.randint(0, len(text))]


def _line_ends(luck, text: str) -> str:
    return text.replace("\n", luck.choice(("\r", "\r\n", "\n\n", "\x0b", "\x85", "\u2028", "\0\n", " \t\n")))


def _same(_luck, text: str) -> str:
    return text


IN_TEXT = (
    _other_value, _other_value, _other_value, _other_amount, _other_amount, _other_amount, _other_number, _other_number,
    _odd_text, _signs, _line_gone, _line_twice, _shuffled, _section, _renamed, _deep, _dotted, _long, _open_text, _cut,
    _line_ends, _same,
)  # fmt: skip


# Ways to spoil bytes


def _flips(luck, content: bytes) -> bytes:
    spoiled = bytearray(content)
    for _ in range(luck.randint(1, 12)):
        if spoiled:
            spoiled[luck.randrange(len(spoiled))] ^= 1 << luck.randrange(8)
    return bytes(spoiled)


def _halved(luck, content: bytes) -> bytes:
    return content[: luck.randint(0, len(content))]


def _recoded(luck, content: bytes) -> bytes:
    text = content.decode("utf-8", "replace")
    return text.encode(
        luck.choice(("utf-8-sig", "utf-16", "utf-16-be", "utf-32", "latin-1", "cp1252", "cp437", "utf-7")), "replace"
    )


def _bytes_put(luck, content: bytes) -> bytes:
    odd = (
        b"\0",
        b"\xff",
        b"\xc0\xaf",
        b"\xed\xa0\x80",
        b"\xf4\x90\x80\x80",
        b"\xef\xbb\xbf",
        b"\x80",
        b"\0" * 4096,
        b"\x1a",
        b"\x1b[2J",
    )
    at = luck.randint(0, len(content))
    return content[:at] + luck.choice(odd) + content[at:]


def _many_times(luck, content: bytes) -> bytes:
    return content * luck.choice((2, 20, 500, 2000))


IN_BYTES = (_flips, _flips, _halved, _recoded, _bytes_put, _many_times)


# What becomes of a page


@contextlib.contextmanager
def few_members():
    """The command plans with few members, and learns from a profile only what it takes to carry it into a plan."""
    from flakeyard.steps.learn import learning
    from flakeyard.steps.plan import plan

    def prior_only(batch_file, log_file, profile=None, **_options):
        batch, log = plan.load_batch(batch_file), learning.read_log(log_file)
        learning.prior_course(batch, log.until(0), members=FEW, profile=profile, sketch=True)
        return mock.Mock(as_dict=dict)

    with (
        mock.patch.object(plan, "plan", partial(plan.plan, members=FEW)),
        mock.patch.object(learning, "learn_files", prior_only),
    ):
        yield


def outcome(kind: str, content: bytes, folder: Path) -> tuple[int, str, str]:
    """Exit code, output and errors of the command for a page. Nothing may be raised."""
    from flakeyard import cli

    path = folder / f"{kind}.toml"
    path.write_bytes(content)
    demo = HERE.parent / "data_demo"
    words = ["plan", str(path), "--json"]
    if kind == "profile":
        words = ["log", str(demo / "otter.toml"), str(demo / "otter-weighings.csv"), "--profile", str(path), "--json"]
    elif content[:1] < b"Z":
        words = ["plan", str(path), "--units", "both"]
    out, errors = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
        code = cli.main(words)
    return code, out.getvalue(), errors.getvalue()


def faults(code: int, out: str, errors: str) -> list[str]:
    """What is wrong with an outcome: it must be a result, or a refusal in at most ten printable lines."""
    lines = errors.rstrip("\n").split("\n")
    if code == 0:
        said = [
            line
            for line in errors.split("\n")
            if line and "still computing" not in line and "still learning" not in line
        ]
        found = [("errors beside a result", bool(said)), ("no result", not out)]
        found += [("no JSON", out.startswith("{") and not _is_json(out))]
    else:
        found = [
            (f"exit code {code}", code != 2), ("more than ten lines", len(lines) > 10), ("a long line", max(map(len, lines)) > 1000),
            ("no example", "Example:" not in errors), ("it does not print", not all(line.isprintable() for line in lines)),
        ]  # fmt: skip
    return [what for what, wrong in [*found, ("a traceback", "Traceback" in errors)] if wrong]


def _is_json(text: str) -> bool:
    def never(number):
        raise ValueError(number)

    try:
        json.loads(text, parse_constant=never)
    except ValueError:
        return False
    return True


def main(kind: str, count: str, first: str = "0") -> int:
    import resource
    import warnings

    warnings.filterwarnings("error", category=RuntimeWarning, module="flakeyard")
    done, wrong, slowest = collections.Counter(), 0, (0.0, -1)
    with tempfile.TemporaryDirectory() as place, few_members():
        for seed in range(int(first), int(first) + int(count)):
            content = page(kind, seed)
            start = time.process_time()
            told = outcome(kind, content, Path(place))
            slowest = max(slowest, (time.process_time() - start, seed))
            done["result" if told[0] == 0 else "refused" if told[0] == 2 else f"exit {told[0]}"] += 1
            if found := faults(*told):
                wrong += 1
                print(f"{kind} {seed}: {', '.join(found)}: {told[2].strip()[-160:]!r}", flush=True)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{kind}: {dict(done)}, {wrong} wrong; slowest {slowest[0]:.2f} s (number {slowest[1]}); memory {most:.0f} MB"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
