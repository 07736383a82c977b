"""The panel of workbook 00: a whole batch, from wet fish to the weight at which to stop."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from flakeyard.messages import number, say
from flakeyard.steps.chain.drying import is_no_drying
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.intent.spread import Band, band
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.plan.explore import Explorer, told_by
from flakeyard.steps.plan.plan import Outcome, too_light
from flakeyard.steps.plan.weighing import thickest_left, water_across, weight_left
from flakeyard.workbook import words
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import drawing
from flakeyard.workbook.panels.live import Lesson, Live, Told
from flakeyard.workbook.panels.panel import Choice, Control, StaticTwin, as_told, start_at, usual_start


@dataclass(frozen=True)
class OwnStop(Control):
    """The weight to stop at: first the one that the rules ask for, then weights of one's own."""

    def values(self) -> list[float]:
        return [0.0, *(share for share in super().values() if share >= LIGHTEST)]

    def reading(self, value: float, choice: Choice) -> str:
        return say("live.batch.own", share=choice.show(value, self.kind)) if value else say("live.batch.rules")


CONTROLS = (
    Control("thickness", say("live.batch.usual_thickness"), "fish", "length", 0.003, 0.015, 0.001, 0.005),
    Control("fat", say("live.batch.fat_raw_fish"), "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", say("live.batch.salt_brine_weight"), "salt", "percent", 0.0, 0.20, 0.01, 0.08),
    Control("temperature", say("live.batch.dryer_set"), "air", "temperature", 50.0, 75.0, 1.0, 70.0),
    OwnStop("stop_at", say("live.batch.stop_weight_left"), "keeping", "percent", 0.0, 0.80, 0.01, 0.0),
)
SURE = say("live.batch.8_10_batches")
LIGHTEST = 0.30  # of one's own weights to stop at
LONGEST = 24.0  # hours, where the axis ends
WEIGHTS = (20.0, 100.0)  # % of the weight as laid, where the axis begins and ends
STRIP = (0.5, 16.5)  # mm of the piece that the cut shows
WET = 0.75  # kg/kg; the palest colour of the cut
MEMBERS = 200  # behind one move, as behind a plan: of fewer the upper end falls short, and the verdict came out milder


@dataclass(frozen=True)
class WholeBatch:
    """One move of the whole-batch panel: how the thickest piece loses weight, where to stop, what then.

    `low`, `mid` and `high` are the weight left, as a fraction of the weight as laid, at each of `hours`; `stop_time` is
    in seconds. `asked` is the weight that the rules ask for, `own` whether it is stopped at another; `usual` and
    `thickest` are the sizes of those pieces [m], `water` the water through it when it is stopped [kg/kg], `air` the dial [degC], `remark` what is to be said of so light a weight.
    """

    hours: np.ndarray
    low: np.ndarray
    mid: np.ndarray
    high: np.ndarray
    stop_ratio: Band
    stop_time: Band
    verdict: Verdict
    keeping: Keeping
    asked: float
    own: bool
    usual: float
    thickest: float
    water: np.ndarray
    air: float
    layers: int
    remark: str = ""


def explore_batch(explorer: Explorer, **values: float) -> WholeBatch:
    """The whole chain, from fish to keeping, for one move of the sliders."""
    seen = explorer.at(**values)
    hours, done = seen.load.result.times / 3600, band(3600 * seen.load.hours)
    return WholeBatch(
        hours, *weight_left(seen.load), seen.drying["mass_ratio"], done, seen.verdict, seen.keep, seen.asked,
        bool(values.get("stop_at")), *seen.batch.cut.sizes[1:], water_across(seen.load, seen.batch.open_faces),
        values["temperature"], seen.load.layers,
        too_light(seen.load) if values.get("stop_at") and seen.load.mass_ratio < seen.load.lightest else "",
    )  # fmt: skip


def draw_whole_batch(batch: WholeBatch, choice: Choice) -> dict:
    """The thickest piece when it is stopped, coloured by its water; beside it its weight against the hours."""
    ratio, asked = 100 * batch.stop_ratio.mid, 100 * batch.asked
    size, plot = 1000 * batch.thickest, _weight_field(batch, choice)
    ratios = batch.thickest / batch.usual
    readings = [choice.show(ratios * value, "length") for value in CONTROLS[0].values()]
    spot = {"scale": 1000 * ratios, "down": True, "right": STRIP[1], "readings": readings}
    rules = say(
        "live.batch.rules_ask", share=f"{number(np.floor(10 * asked) / 10, '.1f')} %"
    )  # not rounded up: 44 may be too moist
    own = {
        "scale": 100.0, "line": "stop", "auto": asked, "auto_words": rules, "stands": ratio,
        "paper_words": say("live.batch.stop", share=f"{ratio:.0f} %"), "words": say("live.batch.stop", share="#"),
    }  # fmt: skip
    return {
        "fields": [_thickest_field(batch, choice), plot],
        "handles": [drawing.handle("thickness", 0, 8.5, **spot), drawing.handle("stop_at", 1, 22.5, **own)],
        "buttons": [],
        "trace": {
            "0": {"bottoms": [[*STRIP, size]]},
            "1": {name: plot["marks"][1][name] for name in ("x", "y")},
        },
        "guessed": {
            "field": 1, "axis": "across", "at": [ratio], "names": [say("live.batch.guess")], "start": 12.0, "step": 0.5,
            "unit": "h", "ends": list(WEIGHTS),
        },
    }  # fmt: skip


def _thickest_field(batch: WholeBatch, choice: Choice) -> dict:
    """The air and the thickest piece in it, to scale."""
    around = say("live.batch.air", dial=choice.show(batch.air, "temperature"))
    known = np.isfinite(batch.water).all()
    inside = say("live.batch.middle", water=choice.show(float(batch.water[len(batch.water) // 2]), "percent"))
    piece = drawing.cut(
        *STRIP, 1000 * batch.thickest, batch.water / WET if known else [1.0, 1.0], "water", held="thickness",
        upper=say("live.batch.thickest"), reading=choice.show(batch.thickest, "length"),
        words=[{"at": 0.5, "words": inside if known else say("live.batch.wet"), "ink": "#1b1b1b"}],
    )  # fmt: skip
    deepest = round(1000 * CONTROLS[0].high * batch.thickest / batch.usual + 4, 3)
    return drawing.cuts_field(17.5, deepest, [{"kind": "area", "style": "air", "words": around}, piece])


def _weight_field(batch: WholeBatch, _choice: Choice) -> dict:
    """The weight of the thickest piece against the hours, its band, and where it is stopped."""
    shown = batch.hours <= LONGEST
    low, mid, high = (
        100 * np.clip(part[shown], 0.01 * WEIGHTS[0], 0.01 * WEIGHTS[1]) for part in (batch.low, batch.mid, batch.high)
    )
    hours, ratio = _hours(batch), 100 * batch.stop_ratio.mid
    stop = [drawing.point(hours, ratio, say("live.batch.done", hours=number(hours, ".1f")))] if hours <= LONGEST else []
    marks = [
        drawing.band("now", batch.hours[shown], low, high),
        drawing.curve("now", batch.hours[shown], mid, say("live.batch.piece")),
        *stop,
        {"kind": "note", "style": "now", "words": say("live.batch.band"), "given": True},
    ]
    if batch.own:
        asked = 100 * batch.asked
        marks.append(
            drawing.curve(
                "end",
                [0, LONGEST],
                [asked, asked],
                say("live.batch.asked", share=number(np.floor(10 * asked) / 10, ".1f")),
            )
        )
    up = drawing.axis(say("live.batch.up"), *WEIGHTS, range(20, 101, 20))
    return {"across": drawing.axis(say("live.batch.across"), 0.0, LONGEST, range(0, 25, 4)), "up": up, "marks": marks}


def reply_whole_batch(batch: WholeBatch, guess: dict, choice: Choice) -> str:
    """What is said to a guess of the hours."""
    hours, time = guess["knots"][0], batch.stop_time
    low, high = (np.inf if end is None else end / 3600 for end in (time.low, time.high))
    where = "below" if hours < low else "above" if hours > high else "inside"
    told = choice.show_band(time, "time")
    return (
        say("live.batch.reply", guess=choice.show(3600 * hours, "time"), told=told) + " " + say(f"live.guess.{where}")
    )


def _hours(batch: WholeBatch) -> float:
    return np.inf if batch.stop_time.mid is None else batch.stop_time.mid / 3600


def tell_whole_batch(batch: WholeBatch, choice: Choice) -> Told:
    """The verdict in a sentence, the spread in a line, the caution that always stands beside it."""
    ratio = choice.show_band(batch.stop_ratio, "percent")
    if batch.stop_ratio.mid is not None and is_no_drying(batch.stop_ratio.mid):
        sentence = say("plan.already_dry")
    elif batch.stop_time.mid is None:
        last = choice.show(3600 * batch.hours[-1], "time")
        sentence = say("live.batch.when_stop_not", last=last, ratio=ratio)
    else:
        hours = choice.show_band(batch.stop_time, "time")
        sentence = say("live.batch.stop_when_thickest", ratio=ratio, hours=hours)
    keep, eat = words.headline(batch.verdict, batch.keeping).split("   ")
    by = words.deadline_words(batch.verdict.by)
    heap = say("live.batch.overload", layers=str(batch.layers)) if batch.layers > 1 else ""
    first = [sentence, *filter(None, [batch.remark]), say("live.batch.keep_eat", keep=keep, eat=eat)]
    sentence = " ".join([*first, *by, *filter(None, [heap])])
    marks = [
        say("live.batch.mark", share=round(100 * np.interp(h, batch.hours, batch.mid)), hours=h) for h in (3, 6, 12)
    ]
    alt = say("live.batch.falling_curve_weight", marks=", ".join(marks), sentence=sentence)
    caution = " ".join(filter(None, [words.first_reason(batch.verdict), words.caution_line(batch.verdict)]))
    time = batch.stop_time
    numbers = (
        (say("live.batch.takes"), choice.show(time.mid, "time")),
        (say("live.batch.left"), choice.show(batch.stop_ratio.mid, "percent")),
        (say("live.batch.keep"), keep),
        (say("live.batch.eat"), eat),
    )
    chips = [(say("live.likely"), choice.likely(time, "time") or say("live.not_known"))]
    chips += [(say("live.batch.by"), " ".join(by))] if by else []
    chips += [(say("live.batch.light"), batch.remark)] if batch.remark else []
    return Told(sentence, SURE, caution, alt, numbers, tuple(chips))


def whole_batch_panel(batch: Batch | None = None, choice: Choice | None = None, **start: float) -> Live:
    """The whole way from fish to a dry piece, for a batch (the demonstration batch when none is given); `start` are
    controls that begin elsewhere."""
    batch = batch or demo_batch("heron")
    told = told_by(batch, usual_start(CONTROLS))
    sliders = start_at(CONTROLS, told, batch)
    explorer = Explorer(batch, MEMBERS, as_told(sliders, told))
    lesson = Lesson(
        say("live.batch.title"), say("live.batch.prompt"), sliders, partial(explore_batch, explorer), draw_whole_batch,
        tell_whole_batch, reply_whole_batch, say("live.batch.guess_prompt"), ("thickness", "temperature", "stop_at"),
        look_for=tuple((say(f"live.batch.look_{n}"), say(f"live.batch.saw_{n}")) for n in (1, 2, 3)), start=start,
    )  # fmt: skip
    return Live(lesson, choice)


def still(outcome: Outcome, choice: Choice) -> StaticTwin:
    """The picture of a plan with its words, without handles."""
    from flakeyard.workbook.panels import paper_pen

    load, planned = outcome.load, outcome.batch
    batch = WholeBatch(
        load.result.times / 3600, *thickest_left(outcome), outcome.drying["mass_ratio"], band(3600 * load.hours),
        outcome.verdict, outcome.keep, load.mass_ratio, False, *planned.cut.sizes[1:],
        water_across(load, planned.open_faces), planned.dryer.temperature, load.layers,
    )  # fmt: skip
    drawn = draw_whole_batch(batch, choice) | {"ghost": None, "guess": None}
    return StaticTwin(
        say("live.batch.still"), planned.title, tell_whole_batch(batch, choice), paper_pen.png(drawn), paper_pen.WIDTH
    )
