"""Odd logs: the logs of the demo class as people would keep them, as a slip would spoil them, as an attacker would.

``odd_log(seed)`` is a file and what may be made of it. A log in another hand ("same") is read as what was weighed, or
refused; one with a slip ("told") is refused, or read with a remark; one with hostile signs ("any") is refused or read.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

DEMO = Path(__file__).parents[1] / "data_demo"
OUNCE, POUND = 28.349523125, 453.59237  # g, exact
CHANGE_NIGHTS = ((2026, 10, 24), (2027, 3, 27), (2026, 10, 31), (2027, 3, 13))  # evenings before clocks are changed


@dataclass(frozen=True)
class Row:
    moment: datetime
    tray: str
    grams: float
    note: str = ""


@dataclass(frozen=True)
class Odd:
    """A file, what happened to it, what is asked of it (same, told, any), and what was weighed: hours, tray, grams."""

    content: bytes
    what: str
    asked: str
    truth: tuple[tuple[float, str, float], ...]
    minutes: float = 0.01  # of rounding
    grams: float = 0.01

    @property
    def name(self) -> str:
        return f"{self.asked}: {self.what}"


@dataclass(frozen=True)
class Hand:
    """How someone writes a log: forms of times, numbers, names, columns and of the file."""

    time: Callable[[datetime, random.Random], str] = lambda moment, _: f"{moment:%Y-%m-%d %H:%M}"
    mass: Callable[[float], str] = lambda grams: f"{grams:g}"
    tray: Callable[[str, random.Random], str] = lambda tray, _: tray
    heads: dict = field(default_factory=dict)
    order: tuple[str, ...] = ("time", "tray", "mass_g", "note")
    delimiter: str = ","
    ending: str = "\n"
    encoding: str = "utf-8"
    extras: tuple[str, ...] = ()
    what: str = ""
    minutes: float = 0.01
    grams: float = 0.01


def demo_rows(name: str) -> list[Row]:
    rows = []
    for line in (DEMO / f"{name}-weighings.csv").read_text(encoding="utf-8").splitlines()[1:]:
        moment, tray, grams, note = line.split(",")
        rows.append(Row(datetime.strptime(moment, "%Y-%m-%d %H:%M"), tray, float(grams), note))
    return rows


def odd_log(seed: int) -> Odd:
    """One odd log; every third is in another hand, has a slip, or is hostile."""
    luck = random.Random(seed)
    rows = _another_day(demo_rows(luck.choice(("heron", "otter", "kingfisher"))), luck)
    hand = _hand(luck)
    if seed % 3 == 0:
        return Odd(_written(rows, hand, luck), hand.what, "same", _truth(rows), hand.minutes, hand.grams)
    if seed % 3 == 1:
        slip = luck.choice(SLIPS)
        content = slip(rows, luck)
        return Odd(content, slip.__name__.strip("_").replace("_", " "), "told", _truth(rows))
    trick = luck.choice(TRICKS)
    content = trick(_written(rows, hand, luck), luck)
    return Odd(content, trick.__name__.strip("_").replace("_", " "), "any", ())


def _truth(rows: list[Row]) -> tuple[tuple[float, str, float], ...]:
    return tuple(((row.moment - rows[0].moment) / timedelta(hours=1), row.tray, row.grams) for row in rows)


def _another_day(rows: list[Row], luck: random.Random) -> list[Row]:
    """The log on another day and hour, with more or less fish, and now and then a marked piece."""
    shift = timedelta(days=luck.randint(-300, 300), minutes=5 * luck.randint(-60, 120))
    share = luck.uniform(0.6, 4.0)
    moved = [replace(row, moment=row.moment + shift, grams=float(round(row.grams * share))) for row in rows]
    if luck.random() < 0.5:
        return moved
    marked = [
        replace(row, tray="thickest", grams=float(round(0.2 * row.grams)), note="") for row in moved if row.tray == "1"
    ]
    return sorted([*moved, *marked], key=lambda row: row.moment)


# In another hand


def _half_day(moment: datetime) -> str:
    return f"{moment.hour % 12 or 12}:{moment:%M} {'AM' if moment.hour < 12 else 'PM'}"


def _serial(moment: datetime) -> float:
    return (moment - datetime(1899, 12, 30)) / timedelta(days=1)


TIMES = {  # how times are written, and minutes of rounding
    "iso": (lambda m, _: f"{m:%Y-%m-%d %H:%M}", 0.01),
    "iso with T and seconds": (lambda m, _: f"{m:%Y-%m-%dT%H:%M:%S}", 0.01),
    "iso with spaces": (lambda m, _: f" {m:%Y-%m-%d}  {m:%H:%M} ", 0.01),
    "dots": (lambda m, _: f"{m:%d.%m.%Y %H:%M}", 0.01),
    "dots, short years": (lambda m, _: f"{m.day}.{m.month}.{m:%y %H:%M}", 0.01),
    "day first": (lambda m, _: f"{m:%d/%m/%Y %H:%M}", 0.01),
    "month first, AM and PM": (lambda m, _: f"{m.month}/{m.day}/{m.year} {_half_day(m)}", 0.01),
    "month first, narrow space": (lambda m, _: f"{m:%m/%d/%Y}, {_half_day(m)}".replace(" P", "\u202fP").replace(" A", "\u202fA"), 0.01),
    "iso, AM and PM": (lambda m, _: f"{m:%Y-%m-%d} {_half_day(m).lower().replace('m', '.m.')}", 0.01),
    "zone": (lambda m, _: f"{m:%Y-%m-%d %H:%M}+01:00", 0.01),
    "several zones": (lambda m, luck: f"{m + timedelta(hours=(east := luck.randint(-3, 9))):%Y-%m-%d %H:%M}{east:+03d}:00", 0.01),
    "serial": (lambda m, _: f"{_serial(m):.5f}", 0.6),
    "short serial": (lambda m, _: f"{_serial(m):.3f}", 2.5),
    "mixed forms": (lambda m, luck: f"{m:{luck.choice(('%Y-%m-%d %H:%M', '%d.%m.%Y %H:%M', '%Y-%m-%dT%H:%M:%S', '%Y/%m/%d %H:%M'))}}", 0.01),
    "clock only": (lambda m, _: f"{m:%H:%M}", 0.01),
    "clock only, AM and PM": (lambda m, _: _half_day(m), 0.01),
}  # fmt: skip
MASSES = {  # heads of the column, how grams are written in it, grams of rounding
    "grams": (("mass_g", "Mass (g)", "MASS_G", "mass [g]", "Weight (g)", "Mass in grams", " mass g "), lambda g: f"{g:g}", 0.01),
    "grams with a decimal": (("mass_g", "Mass (g)"), lambda g: f"{g:.1f}", 0.01),
    "grams with a plus": (("mass_g",), lambda g: f"+{g:.2f}", 0.01),
    "kilograms": (("mass_kg", "Mass (kg)", "weight kg", "Mass (Kilograms)"), lambda g: f"{g / 1000:.4f}", 0.06),
    "ounces": (("mass_oz", "Mass (oz)", "Weight (ounces)"), lambda g: f"{g / OUNCE:.2f}", 0.15),
    "pounds": (("mass_lb", "Mass (lbs)"), lambda g: f"{g / POUND:.4f}", 0.03),
    "thin thousands": (("mass_g",), lambda g: f"{g:,.0f}".replace(",", "\u202f"), 0.01),
    "hard thousands": (("mass_g",), lambda g: f"{g:,.0f}".replace(",", "\u00a0"), 0.01),
    "unit in the cell": (("mass_g",), lambda g: f"{g:g} g", 0.01),
    "points for thousands": (("mass_g",), lambda g: f"{g:,.0f}".replace(",", "."), 0.01),
}  # fmt: skip
NUMBERED = (
    "{}",
    "Tray {}",
    "tray  {}",
    "{}.0",
    "#{}",
    "TRAY {}",
    "No. {}",
    "t{}",
    "0{}",
    " {} ",
    "tray-{}",
    "{}\u200b",
    "({})",
)
MARKED = ("thickest", "Thickest", "marked piece", "The thickest piece", "MARKED", "thickest ")
HEADS = {
    "time": ("time", "Time", "Date/Time", "TIME", "When"),
    "tray": ("tray", "Tray", "Tray no.", "TRAY"),
    "note": ("note", "Note"),
}
EXTRAS = (
    "sep", "blank rows", "comments", "header again", "sums", "sums without time", "means", "repeated row", "more columns", "empty cells at the end", "no last end",
    "quotes everywhere", "long notes", "note over two lines", "header after comments",
)  # fmt: skip


def _hand(luck: random.Random) -> Hand:
    """Some of all forms at once, a plain one more often than not."""
    time = luck.choice(list(TIMES)) if luck.random() < 0.6 else "iso"
    mass = luck.choice(list(MASSES)) if luck.random() < 0.6 else "grams"
    names = NUMBERED if luck.random() < 0.5 else NUMBERED[:1]
    delimiter, ending = luck.choice(",,,;;\t"), luck.choice(("\n", "\n", "\r\n", "\r"))
    encoding = luck.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"))
    extras = tuple(luck.sample(EXTRAS, luck.choice((0, 0, 1, 2, 3))))
    heads = {name: luck.choice(forms) for name, forms in HEADS.items()} | {"mass_g": luck.choice(MASSES[mass][0])}
    order = ["time", "tray", "mass_g", "note"]
    if luck.random() < 0.3:
        luck.shuffle(order)
    written, told = (
        MASSES[mass][1],
        ", ".join([time, mass, *extras, encoding, repr(delimiter), *([] if len(names) == 1 else ["names"])]),
    )
    return Hand(
        TIMES[time][0], (lambda grams: written(grams).replace(".", ",")) if delimiter == ";" and luck.random() < 0.7 else written,
        lambda tray, dice: dice.choice(MARKED if tray == "thickest" else names).format(tray), heads, tuple(order),
        delimiter, ending, encoding, extras, told, TIMES[time][1], MASSES[mass][2],
    )  # fmt: skip


def _quoted(cell: str, hand: Hand) -> str:
    signs = (hand.delimiter, '"', "\n", "\r")
    if "quotes everywhere" in hand.extras or any(sign in cell for sign in signs):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _line(cells: dict[str, str], hand: Hand) -> str:
    more = ["", ""] if "empty cells at the end" in hand.extras else ["mine"] if "more columns" in hand.extras else []
    return hand.delimiter.join(_quoted(cell, hand) for cell in [*(cells.get(name, "") for name in hand.order), *more])


def _written(rows: list[Row], hand: Hand, luck: random.Random) -> bytes:
    """The log in a hand."""
    head = _line({name: hand.heads.get(name, name) for name in hand.order}, replace(hand, extras=()))
    head += {"empty cells at the end": 2 * hand.delimiter, "more columns": f"{hand.delimiter}who"}.get(
        next((one for one in hand.extras if one in ("empty cells at the end", "more columns")), ""), ""
    )
    lines = (
        [f"sep={hand.delimiter}"] * ("sep" in hand.extras)
        + ["# my log"] * ("header after comments" in hand.extras)
        + [head]
    )
    for number, row in enumerate(rows):
        lines += _about(rows, number, hand, luck, head)
        note = row.note + {
            "long notes": "; skin down, 5 pieces, 1/4 in " * 3,
            "note over two lines": "\nstill wet",
        }.get(next((one for one in hand.extras if one in ("long notes", "note over two lines")), ""), "")
        lines.append(
            _line(
                {
                    "time": hand.time(row.moment, luck),
                    "tray": hand.tray(row.tray, luck),
                    "mass_g": hand.mass(row.grams),
                    "note": note,
                },
                hand,
            )
        )
        if "repeated row" in hand.extras and number == len(rows) - 1:
            lines.append(lines[-1])
    lines += [_line({"time": "Total", "mass_g": hand.mass(sum(row.grams for row in rows))}, hand)] * (
        "sums without time" in hand.extras
    )
    text = hand.ending.join(lines) + ("" if "no last end" in hand.extras else hand.ending)
    return text.encode(hand.encoding, errors="replace" if hand.encoding == "cp1252" else "strict")


def _about(rows: list[Row], number: int, hand: Hand, luck: random.Random, head: str) -> list[str]:
    """What stands between two rows."""
    told, row = [], rows[number]
    new = number > 0 and row.moment != rows[number - 1].moment
    if "blank rows" in hand.extras and luck.random() < 0.2:
        told.append(luck.choice(("", "   ", hand.delimiter * 3)))
    if "comments" in hand.extras and luck.random() < 0.2:
        told.append("# turned the trays, all fine")
    if "header again" in hand.extras and luck.random() < 0.1:
        told.append(head)
    if new and {"sums", "means"} & set(hand.extras):
        beside = [one.grams for one in rows if one.moment == rows[number - 1].moment and one.tray != "thickest"]
        time = hand.time(rows[number - 1].moment, random.Random(0))
        sums = {"sums": ("Total", sum(beside)), "means": ("average", sum(beside) / len(beside))}
        told += [
            _line({"time": time, "tray": word, "mass_g": hand.mass(grams)}, hand)
            for one, (word, grams) in sums.items()
            if one in hand.extras
        ]
    return told


# With a slip


def _plain(rows: list[Row], luck: random.Random, **changes) -> bytes:
    return _written(rows, replace(Hand(), **changes), luck)


def _later(rows: list[Row], luck: random.Random) -> int:
    """A row that is not of the first moment."""
    return luck.choice([number for number, row in enumerate(rows) if row.moment > rows[0].moment])


def _with(rows: list[Row], number: int, **changes) -> list[Row]:
    return [*rows[:number], replace(rows[number], **changes), *rows[number + 1 :]]


def _other_unit_in_one_row(rows, luck):
    number = _later(rows, luck)
    return _plain(_with(rows, number, grams=round(rows[number].grams / luck.choice((OUNCE, POUND, 1000)), 2)), luck)


def _ounces_in_all_rows(rows, luck):
    return _plain(rows, luck, mass=lambda grams: f"{grams / 4 / OUNCE:.1f}")


def _kilograms_in_all_rows(rows, luck):
    return _plain(rows, luck, mass=lambda grams: f"{grams / 1000:.3f}")


def _grams_in_the_column_of_kilograms(rows, luck):
    return _plain(rows, luck, heads={"mass_g": "mass_kg"})


def _another_century(rows, luck):
    years = luck.choice((-100, -80, 36, 50))
    return _plain(
        [
            replace(row, moment=row.moment.replace(year=row.moment.year + years, day=min(row.moment.day, 28)))
            for row in rows
        ],
        luck,
    )


def _one_year_mistyped(rows, luck):
    number = _later(rows, luck)
    moment = rows[number].moment
    return _plain(
        _with(
            rows, number, moment=moment.replace(year=moment.year + luck.choice((-1, 1, 36)), day=min(moment.day, 28))
        ),
        luck,
    )


def _a_night_of_changed_clocks(rows, luck):
    evening = datetime(*luck.choice(CHANGE_NIGHTS), luck.randint(20, 22), 30)
    forward = evening.month == 3
    moved = [replace(row, moment=evening + (row.moment - rows[0].moment)) for row in rows]
    change = evening.replace(hour=0) + timedelta(days=1, hours=2)
    shown = [
        replace(row, moment=row.moment + timedelta(hours=(1 if forward else -1) * (row.moment >= change)))
        for row in moved
    ]
    return _plain(shown, luck)


def _a_day_between_clocks(rows, luck):
    moment = rows[_later(rows, luck)].moment
    return _plain(
        [replace(row, moment=row.moment + timedelta(days=row.moment >= moment)) for row in rows],
        luck,
        time=lambda m, _: f"{m:%H:%M}",
    )


def _a_decimal_comma(rows, luck):
    number = luck.randrange(len(rows))
    odd = f"{rows[number].grams:g},{luck.randint(1, 9)}"
    lines = _plain(rows, luck).decode().splitlines()
    cells = lines[number + 1].split(",")
    keep = luck.choice((cells[3:], [], [""]))
    lines[number + 1] = ",".join([*cells[:2], odd, *keep])
    return ("\n".join(lines) + "\n").encode()


def _a_name_misspelt(rows, luck):
    number = _later(rows, luck)
    return _plain(_with(rows, number, tray=luck.choice(("thikest", "thickset", "11", "1a", "l", "tray"))), luck)


def _a_jump(rows, luck):
    number = luck.choice(
        [number for number, row in enumerate(rows) if row.moment > rows[0].moment and row.tray not in ("thickest",)]
    )
    return _plain(_with(rows, number, grams=round(rows[number].grams * luck.choice((0.5, 0.6, 2.2)))), luck)


def _a_wrong_total(rows, luck):
    number = _later(rows, luck)
    beside = sum(row.grams for row in rows if row.moment == rows[number].moment and row.tray != "thickest")
    return _plain(
        [*rows[: number + 1], replace(rows[number], tray="Total", grams=round(1.3 * beside)), *rows[number + 1 :]], luck
    )


def _rows_swapped(rows, luck):
    number = luck.choice([n for n in range(1, len(rows)) if rows[n].moment > rows[n - 1].moment])
    return _plain([*rows[: number - 1], rows[number], rows[number - 1], *rows[number + 1 :]], luck)


def _morning_or_evening(rows, luck):
    number = luck.choice([n for n, row in enumerate(rows) if row.moment.hour % 12])
    halves = [f"{row.moment:%Y-%m-%d} {_half_day(row.moment)}" for row in rows]
    halves[number] = halves[number][:-3]
    told = iter(halves)
    return _plain(rows, luck, time=lambda *_: next(told))


def _twelve_hour_clock(rows, luck):
    evening = rows[0].moment.replace(hour=luck.choice((19, 20, 21)), minute=0)
    moved = [replace(row, moment=evening + (row.moment - rows[0].moment)) for row in rows]
    return _plain(moved, luck, time=lambda m, _: f"{m:%Y-%m-%d} {m.hour % 12 or 12}:{m:%M}")


def _day_or_month(rows, luck):
    begin = datetime(2026, luck.randint(1, 12), luck.randint(1, 11), 10)
    if begin.month == begin.day:
        begin += timedelta(days=1)
    return _plain(
        [replace(row, moment=begin + (row.moment - rows[0].moment)) for row in rows],
        luck,
        time=lambda m, _: f"{m:%d/%m/%Y %H:%M}",
    )


def _two_weights(rows, luck):
    row = rows[_later(rows, luck)]
    return _plain(sorted([*rows, replace(row, grams=row.grams - 7)], key=lambda one: one.moment), luck)


def _an_open_quote(rows, luck):
    first = luck.randrange(len(rows) - 2)
    notes = {first: '"laid', luck.randrange(first + 1, len(rows)): 'end"'}
    lines = _plain(rows, luck).decode().splitlines()
    for number, note in notes.items():
        lines[number + 1] = ",".join([*lines[number + 1].split(",")[:3], note])
    return ("\n".join(lines) + "\n").encode()


def _cut_off_in_the_last_line(rows, luck):
    text = _plain(rows, luck).decode().rstrip("\n")
    last = len(text) - text.rindex("\n") - 1
    return text[: len(text) - luck.randint(1, last - 1)].encode()


def _hours_of_the_day(rows, luck):
    start = luck.randint(5, 9)
    told = [f"{start + (row.moment - rows[0].moment) / timedelta(hours=1):g}" for row in rows]
    cells = iter(told)
    return _plain(rows, luck, time=lambda *_: next(cells), heads={"time": luck.choice(("hours", "time"))})


SLIPS = (
    _other_unit_in_one_row, _ounces_in_all_rows, _kilograms_in_all_rows, _grams_in_the_column_of_kilograms, _another_century, _one_year_mistyped,
    _a_night_of_changed_clocks, _a_day_between_clocks, _a_decimal_comma, _a_name_misspelt, _a_jump, _a_wrong_total, _rows_swapped, _morning_or_evening,
    _twelve_hour_clock, _day_or_month, _two_weights, _an_open_quote, _cut_off_in_the_last_line, _hours_of_the_day,
)  # fmt: skip


# Hostile

NASTY = (
    "\0", "\x1a", "\ufeff", "\u202e", "\u200b", "\u2028", "\x0c", '"', '""', "'", ",", ";", "\t", "\r", "\n", "=1+1", "-", "--", "+", "1e308", "1e-300", "nan", "inf",
    "9" * 400, "0x10", "1_000", "\u0663\u0662\u0662", "\uff11", "\u00b2", "\u00bd", "99999999999.5", "0000-00-00 00:00", "9999-12-31 23:59", "24:00", "23:59:60",
    "2026-02-30 10:00", "+99:99", "day 99 23:59", "day 0 00:00", "sep=,", "#", "<script>", "{0}", "%s", "\ud83d\ude00".encode("utf-16", "surrogatepass").decode("utf-16"), "a" * 5000, "," * 300,
)  # fmt: skip


def _nasty_signs(content: bytes, luck: random.Random) -> bytes:
    text = content.decode("latin-1")
    for _ in range(luck.randint(1, 4)):
        at = luck.randrange(len(text) + 1)
        text = text[:at] + luck.choice(NASTY).encode("utf-8").decode("latin-1") + text[at + luck.choice((0, 0, 1, 5)) :]
    return text.encode("latin-1")


def _nasty_cell(content: bytes, luck: random.Random) -> bytes:
    lines = content.decode("latin-1").split("\n")
    number = luck.randrange(len(lines))
    cells = lines[number].split(",")
    cells[luck.randrange(len(cells))] = luck.choice(NASTY).encode("utf-8").decode("latin-1")
    lines[number] = ",".join(cells)
    return "\n".join(lines).encode("latin-1")


def _bytes_flipped(content: bytes, luck: random.Random) -> bytes:
    flipped = bytearray(content)
    for _ in range(luck.randint(1, 8)):
        flipped[luck.randrange(len(flipped))] = luck.randrange(256)
    return bytes(flipped)


def _cut_anywhere(content: bytes, luck: random.Random) -> bytes:
    return content[: luck.randrange(1, len(content))]


def _two_files_in_one(content: bytes, luck: random.Random) -> bytes:
    at = luck.randrange(len(content))
    return content[:at] + content + content[at:]


def _lines_shuffled(content: bytes, luck: random.Random) -> bytes:
    lines = content.split(b"\n")
    luck.shuffle(lines)
    return b"\n".join(lines)


def _many_rows(content: bytes, luck: random.Random) -> bytes:
    head, *lines = content.split(b"\n")
    return b"\n".join([head, *luck.choices(lines or [b""], k=luck.choice((200, 2000)))])


TRICKS = (
    _nasty_signs,
    _nasty_signs,
    _nasty_cell,
    _nasty_cell,
    _bytes_flipped,
    _cut_anywhere,
    _two_files_in_one,
    _lines_shuffled,
    _many_rows,
)
