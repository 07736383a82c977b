"""How long it takes and at what weight to stop: the panel of workbook 06, and its tables.

Two kinds of piece are shown for each move: the usual one, and the thickest, which decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flakeyard import units
from flakeyard.messages import number, say
from flakeyard.models.constants import DAY, HOUR
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import UNKNOWN, Band
from flakeyard.steps.plan import weighing
from flakeyard.steps.plan.cutting import LONGEST
from flakeyard.steps.plan.explore import told_by
from flakeyard.steps.plan.judging import TESTED_THICKNESS
from flakeyard.steps.plan.plan import Outcome
from flakeyard.steps.plan.weighing import Scales, TwoPieces
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control, as_told, start_at, usual_start
from flakeyard.workbook.table import Table, heads

MARKED = 0.100  # kg, the marked piece of the sentence
LONGEST_SHOWN = 24.0  # hours, where the axis ends
WEIGHTS = (20.0, 100.0)  # % of the weight as laid, where the axis begins and ends
THIN, THICK = (0.5, 12.5), (27.5, 39.5)  # mm of each piece that its cut shows
MEMBERS = (
    200  # behind one move, as behind a plan: with fewer the solid curve would move when only the thickest piece does
)
DEEPEST = 26.0  # mm; the thickest piece of all sliders is 24 mm
WET = 0.75  # kg/kg; the palest colour of the cuts
SURE = say("live.weight.8_10_batches")
NOT_SAFE = say("live.weight.weight_reached_not")


@dataclass(frozen=True)
class Evenness(Control):
    """A slider for how much thicker the thickest piece is than the usual one."""

    def reading(self, value: float, choice: Choice) -> str:
        return say("live.weight.by", value=choice.show(value, self.kind)) if value else say("live.weight.all_alike")


CONTROLS = (
    Control("thickness", say("live.weight.usual_thickness"), "fish", "length", 0.003, 0.015, 0.001, 0.005),
    Evenness("thicker", say("live.weight.thickest_thicker"), "fish", "percent", 0.0, 0.60, 0.05, 0.35),
    Control("fat", say("live.weight.fat_raw_fish"), "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", say("live.weight.salt_brine_weight"), "salt", "percent", 0.0, 0.20, 0.01, 0.08),
    Control("temperature", say("live.weight.dryer_set"), "air", "temperature", 50.0, 75.0, 1.0, 70.0),
    Control("hours", say("live.weight.look_after"), "air", "time", 0.0, DAY, 0.5 * HOUR, 2 * HOUR, 3),
)


def starting_values(batch: Batch) -> dict[str, float]:
    """Where the sliders start, before they are held to their range."""
    _, usual, thickest = batch.cut.sizes
    return told_by(batch, usual_start(CONTROLS)) | {"thicker": thickest / usual - 1}


# Tables for the page


def stop_table(outcome: Outcome, choice: Choice, marked: str, tray: str) -> Table:
    """Where to stop: a marked thickest piece and a mixed tray, as weighed when laid (typed), and what they will weigh."""
    head = heads("live.weight.stop_heads")
    try:
        laid = [units.read_amount(typed, "mass", where, example="42 g").value for typed, where in _typed(marked, tray)]
    except units.InputError as trouble:
        return Table(head, ((str(trouble), say("live.not_known"), say("live.not_known")),))
    left = weighing.when_done(outcome).left
    parts = (outcome.drying["mass_ratio"] if outcome.load.reached else UNKNOWN, left["tray"])
    names = (say("live.weight.marked_thickest_piece"), say("live.weight.tray_all_sizes"))
    rows = zip(names, laid, parts, strict=True)
    return Table(
        head, tuple((name, choice.show(mass, "mass", digits=3), _of(part, mass, choice)) for name, mass, part in rows)
    )


def _typed(marked: str, tray: str) -> tuple[tuple[str, str], ...]:
    return (marked, say("live.weight.marked_piece")), (tray, say("live.weight.tray"))


def _of(part: Band, mass: float, choice: Choice) -> str:
    return choice.show_band(
        Band(*(None if share is None else mass * share for share in vars(part).values())), "mass", digits=3
    )


# The picture


def draw_weight(two: TwoPieces, choice: Choice) -> dict:
    """Both pieces as they are at the moment one looks, each on a scale; beside them their weights against the hours."""
    plot, sizes = _weights_field(two), (1000 * two.usual_size, 1000 * two.thickest_size)
    shares = next(one for one in CONTROLS if one.name == "thicker").values()
    readings = [choice.show(two.usual_size * (1 + share), "length") for share in shares]
    line = {"line": "later", "stands": two.moment / HOUR, "paper_words": ""}
    return {
        "fields": [_pieces_field(two, choice), plot],
        "handles": [
            *drawing.pair_handles(THIN, THICK, sizes[0], readings),
            drawing.handle("hours", 1, WEIGHTS[0], "across", scale=1 / HOUR, **line),
        ],
        "buttons": [],
        "trace": {
            "0": {"bottoms": [[*THIN, sizes[0]], [*THICK, sizes[1]]]},
            "1": {name: plot["marks"][3][name] for name in ("x", "y")},
        },
        "guessed": {
            "field": 1, "axis": "across", "at": [100 * two.stop], "names": [say("live.weight.guess")], "start": 12.0,
            "step": 0.5, "unit": "h", "ends": list(WEIGHTS),
        },
    }  # fmt: skip


def _pieces_field(two: TwoPieces, choice: Choice) -> dict:
    """The usual and the thickest piece to scale, coloured by their water, and the scale under each."""
    laid = choice.show(MARKED, "mass", digits=3).partition(" (")[0]
    marks = [
        {
            "kind": "area",
            "style": "air",
            "words": say("live.weight.moment", hours=choice.show(two.moment, "time", digits=3)),
        }
    ]
    pieces = (
        (THIN, two.usual_size, two.water[0], two.left[0], "thickness", "live.weight.usual", True),
        (THICK, two.thickest_size, two.water[1], two.left[1], "thicker", "live.weight.thickest", two.tested),
    )
    for place, size, water, left, held, name, tested in pieces:
        middle = choice.show(float(water[len(water) // 2]), "percent")
        inside = say("live.weight.middle", water=middle) if tested else say("live.weight.untested")
        marks.append(
            drawing.cut(
                *place, 1000 * size, water / WET if tested else [0.5, 0.5], "water", held=held, upper=say(name),
                words=[{"at": 0.5, "words": inside, "ink": "#1b1b1b"}], reading=choice.show(size, "length"),
            )
        )  # fmt: skip
        weighs = choice.show(MARKED * left, "mass", digits=3).partition(" (")[0] if tested else "?"
        small = say("live.weight.laid", laid=laid)
        marks.append({"kind": "scale", "left": place[0], "right": place[1], "words": weighs, "small": small})
    return drawing.cuts_field(48.5, DEEPEST, marks, share=0.5, head=4.5)


def _weights_field(two: TwoPieces) -> dict:
    """Weights left against the hours, their bands, the weight to stop at and where each piece is done."""
    shown, low, high = two.hours <= LONGEST_SHOWN, *WEIGHTS
    hours, stop = two.hours[shown], 100 * two.stop
    usual, thickest = (np.clip(100 * one[:, shown], low, high) for one in (two.usual, two.thickest))
    marks = [
        drawing.band("now", hours, usual[0], usual[2]) | {"given": True},
        drawing.band("second", hours, thickest[0], thickest[2]),
        drawing.curve("now", hours, usual[1], say("live.weight.usual"), given=True),
        drawing.curve("second", hours, thickest[1], say("live.weight.thickest")),
        drawing.curve(
            "end", [0, LONGEST_SHOWN], [stop, stop], say("live.weight.stop", share=f"{stop:.0f}"), given=True
        ),
        {"kind": "note", "style": "now", "words": say("live.batch.band"), "given": True},
    ]
    ends = (_hours(two.usual_done), _hours(two.thickest_done) if two.tested else np.nan)
    for end, more in zip(ends, ({"given": True, "above": False}, {"shape": "s"}), strict=True):
        if end <= LONGEST_SHOWN:
            marks.append(drawing.point(end, stop, say("live.batch.done", hours=number(end, ".1f")), **more))
    up = drawing.axis(say("live.batch.up"), *WEIGHTS, range(20, 101, 20))
    across = drawing.axis(say("live.batch.across"), 0.0, LONGEST_SHOWN, range(0, 25, 4))
    return {"across": across, "up": up, "marks": marks}


def _hours(seconds: Band) -> float:
    return np.nan if seconds.mid is None else seconds.mid / HOUR


def reply_weight(two: TwoPieces, guess: dict, choice: Choice) -> str:
    """What is said to a guess of the thickest piece's hours."""
    hours, done = guess["knots"][0], two.thickest_done
    if not two.tested or done.mid is None:
        return say("live.weight.no_reply")
    low, high = (np.inf if end is None else end / HOUR for end in (done.low, done.high))
    where = "below" if hours < low else "above" if hours > high else "inside"
    told = choice.show_band(done, "time")
    return (
        say("live.batch.reply", guess=choice.show(HOUR * hours, "time"), told=told) + " " + say(f"live.guess.{where}")
    )


# The words


def tell_weight(two: TwoPieces, choice: Choice) -> Told:
    """Both times, the weight of a marked piece, how moist it is inside; the verdict's first reason as the caution."""
    caution = " ".join(filter(None, (NOT_SAFE, words.first_reason(two.verdict), words.caution_line(two.verdict))))
    sentence = _sentence(two, choice)
    if not two.tested:
        alt = say("live.weight.two_pieces_cut", sentence=sentence)
        return Told(sentence, SURE, caution, alt, _numbers(two, choice), _chips(two, choice))
    shares = {h: round(100 * np.interp(h, two.hours, two.thickest[1])) for h in (2, 4, 8)}
    marks = [say("live.batch.mark", share=share, hours=h) for h, share in shares.items()]
    alt = say("live.weight.two_pieces_cut_2", marks=", ".join(marks), sentence=sentence)
    return Told(sentence, SURE, caution, alt, _numbers(two, choice), _chips(two, choice))


def _sentence(two: TwoPieces, choice: Choice) -> str:
    sizes = [choice.show(size, "length") for size in (two.usual_size, two.thickest_size)]
    marked, done = (choice.show(mass, "mass", digits=3) for mass in (MARKED, MARKED * two.stop))
    usual_size, thickest_size = sizes
    usual, thickest = (_time_words(one, choice) for one in (two.usual_done, two.thickest_done))
    if not two.tested:
        tested = units.show_band(*TESTED_THICKNESS, "length", choice.system)
        return say(
            "live.weight.thickest_piece_when",
            thickest_size=thickest_size,
            tested=tested,
            usual_size=usual_size,
            marked=marked,
            done=done,
            usual=usual,
        )
    told = say(
        "live.weight.marked_thickest_piece_2",
        marked=marked,
        done=done,
        usual_size=usual_size,
        usual=usual,
        thickest_size=thickest_size,
        thickest=thickest,
    )
    return f"{told} {_inside_words(two, choice)}".strip()


def _numbers(two: TwoPieces, choice: Choice) -> tuple[tuple[str, str], ...]:
    """The thickest piece's hours large; the usual one's, the weight to stop at, and the water inside at that moment."""
    known = two.tested and np.isfinite(two.inside).all()
    face, _, middle = (choice.show(water, "percent") for water in two.inside) if known else ("", "", "")
    marked = choice.show(MARKED, "mass", digits=3).partition(" (")[0]
    return (
        (say("live.weight.takes"), choice.show(two.thickest_done.mid if two.tested else None, "time")),
        (say("live.weight.usual_takes"), choice.show(two.usual_done.mid, "time")),
        (say("live.weight.stop_at", marked=marked), choice.show(MARKED * two.stop, "mass", digits=3)),
        (say("live.weight.inside"), f"{face} · {middle}" if known else say("live.not_known")),
    )


def _chips(two: TwoPieces, choice: Choice) -> tuple[tuple[str, str], ...]:
    """How long it may take, and how far the thickest piece is at the moment one looks."""
    likely = choice.likely(two.thickest_done, "time") if two.tested else ""
    weighs, stop = (
        choice.show(MARKED * share, "mass", digits=3).partition(" (")[0] for share in (two.left[1], two.stop)
    )
    state = "untested" if not two.tested else "there" if two.left[1] <= two.stop else "not_yet"
    moment = say("live.weight.at", hours=choice.show(two.moment, "time", digits=3))
    return (
        (say("live.likely"), likely or say("live.not_known")),
        (moment, say(f"live.weight.{state}", weighs=weighs, stop=stop)),
    )


def _time_words(seconds: Band, choice: Choice) -> str:
    if seconds.mid is None:
        longest = choice.show(HOUR * LONGEST, "time")
        return say("live.weight.not_within_when", longest=longest)
    return say("live.weight.after", seconds=choice.show_band(seconds, "time"))


def _inside_words(two: TwoPieces, choice: Choice) -> str:
    if not np.isfinite(two.inside).all():
        return ""
    face, _, middle = (choice.show(water, "percent") for water in two.inside)
    return say("live.weight.then_face_holds", face=face, middle=middle)


def weight_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """A usual piece and the thickest side by side, and what the scale says of each; `start` are controls that begin
    elsewhere than the batch does."""
    batch = batch or demo_batch("heron")
    told = starting_values(batch)
    sliders = start_at(CONTROLS, told, batch)
    scales = Scales(batch, MEMBERS, as_told(sliders, told))
    lesson = Lesson(
        say("live.weight.title"), say("live.weight.prompt"), sliders, scales.at, draw_weight, tell_weight,
        reply_weight, say("live.weight.guess_prompt"), ("thickness", "thicker", "hours"), "hours",
        (say("live.weight.play"), say("live.salt.step")),
        tuple((say(f"live.weight.look_{n}"), say(f"live.weight.saw_{n}")) for n in (1, 2, 3)), start,
    )  # fmt: skip
    return Live(lesson, choice)
