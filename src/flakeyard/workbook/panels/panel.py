"""Slider panels: what the learner moves, the picture that follows, and the words beneath it.

A panel is put together from four plain functions and never holds any arithmetic itself:

    compute(**slider values) -> result      numbers in, a record out; no drawing, no widgets
    picture(choice)          -> Picture     the frame and the named artists that will move
    draw(picture, result, choice)           sets the data of those artists
    tell(result, choice)     -> Said        sentence, how sure, caution, text alternative

Slider values are in the units of the models (m, degC, fractions); every number a learner sees goes through
`units.show` with the unit system of a `Choice`, which is handed to each panel.
"""

import asyncio
import base64
import html
import re
from collections.abc import Callable
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import lru_cache, partial

import ipywidgets as widgets
import numpy as np
import traitlets

from flakeyard import units
from flakeyard.steps.intent.batch_file import Batch
from flakeyard.steps.intent.spread import Band
from flakeyard.steps.judge.safety import Verdict
from flakeyard.steps.judge.storing import Keeping
from flakeyard.steps.plan.plan import Explorer
from flakeyard.workbook import words
from flakeyard.workbook.accessible import Accessible
from flakeyard.workbook.own import demo_batch
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture

GROUPS = ("fish", "salt", "air", "keeping")  # the one order of sliders in every workbook
REST = 0.03  # s without a move, after which the next move is worked out


class Choice(traitlets.HasTraits):
    """The units a learner wants to read; made once in a workbook and handed to its panels."""

    system = traitlets.Enum(("metric", "us", "both"), default_value="both")

    def __init__(self, system: str = "both"):
        super().__init__(system=system)

    def show(self, value: float, kind: str, **how) -> str:
        """A value in the units of the models as text in the chosen units; "not known" where there is none."""
        return units.show(value, kind, self.system, **how)

    def show_band(self, band: Band, kind: str, **how) -> str:
        """A band as "middle, likely low to high"; one number when it has no spread to be seen."""
        middle = self.show(band.mid, kind, **how)
        if band.mid is None or band.low == band.high:
            return middle
        if band.high is None:
            return f"{middle}, likely {self.show(band.low, kind, **how)} or more"
        likely = units.show_band(band.low, band.high, kind, self.system, **how)
        return middle if likely == middle else f"{middle}, likely {likely}"


@dataclass(frozen=True)
class Control:
    """One slider: a parameter of the compute function, from low to high in equal steps."""

    name: str
    label: str
    group: str
    kind: str
    low: float
    high: float
    step: float
    start: float
    digits: int = 2

    def __post_init__(self):
        if self.group not in GROUPS:
            raise ValueError(f"group is {self.group!r}; allowed is one of {', '.join(GROUPS)}")
        if not (self.low < self.high and self.step > 0 and self.low <= self.start <= self.high):
            raise ValueError(
                f"{self.name} starts at {self.start}; allowed is {self.low} to {self.high} in steps above 0"
            )

    def values(self) -> list[float]:
        count = round((self.high - self.low) / self.step)
        return [round(self.low + n * self.step, 10) for n in range(count + 1)]

    def options(self, choice: Choice) -> list[tuple[str, float]]:
        """What the slider can be set to, each with its reading in the chosen units."""
        return [(self.reading(value, choice), value) for value in self.values()]

    def reading(self, value: float, choice: Choice) -> str:
        return choice.show(value, self.kind, digits=self.digits)

    def nearest(self, value: float) -> float:
        return min(self.values(), key=lambda mark: abs(mark - value))


@dataclass(frozen=True)
class Said:
    """What a panel says in words: one sentence of result, how sure it is, a caution, the picture in words."""

    sentence: str
    how_sure: str
    caution: str = ""
    alt: str = ""


@dataclass(frozen=True)
class StaticTwin:
    """A panel as it stands, for paper and for stored notebooks: one picture and its words, no sliders."""

    title: str
    settings: str
    said: Said
    png: bytes = field(repr=False)
    width: int = 672

    def __str__(self) -> str:
        said = self.said
        lines = [self.title, self.settings, said.sentence, f"How sure: {said.how_sure}"]
        return "\n".join(lines + ([f"Caution: {said.caution}"] if said.caution else []))

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.png).decode()
        lines = [f"<strong>{_for_page(self.said.sentence)}</strong>", f"How sure: {_for_page(self.said.how_sure)}"]
        lines += [f"Caution: {_for_page(self.said.caution)}"] if self.said.caution else []
        return (
            f'<figure style="margin:0"><figcaption><strong>{html.escape(self.title)}</strong><br>'
            f"{_for_page(self.settings)}</figcaption>"
            f'<img width="{self.width}" alt="{html.escape(self.said.alt)}" src="data:image/png;base64,{data}">'
            f"<div>{'<br>'.join(lines)}</div></figure>"
        )


class Panel(widgets.VBox):
    """Sliders, one picture, one sentence, one line "how sure", a caution where it applies.

    A panel that looks ahead, and whose compute function keeps what it has found, works out the next step of a slider
    while the hand rests: whoever goes on the same way finds it done.
    """

    def __init__(
        self,
        title: str,
        controls: tuple[Control, ...],
        compute: Callable,
        picture: Callable[[Choice], Picture],
        draw: Callable,
        tell: Callable,
        choice: Choice | None = None,
        look_for: tuple[str, ...] = (),
        on_release: bool = False,
        look_ahead: bool = False,
    ):
        self.title, self.choice = title, choice or Choice()
        self.controls = tuple(sorted(controls, key=lambda control: GROUPS.index(control.group)))
        self._compute, self._make_picture, self._draw, self._tell = compute, picture, draw, tell
        self.picture, self.said, self.trouble = picture(self.choice), Said("", ""), None
        self._quiet = self._busy = False
        self._looks_ahead, self._next = look_ahead, None
        self.sliders = {control.name: self._slider(control, on_release) for control in self.controls}
        self._image = widgets.Image(
            format=figures.FORMAT,
            layout=widgets.Layout(width=f"{self.picture.width}px", height=f"{self.picture.height}px", flex="0 0 auto"),
        ).add_class("fy-picture")
        self._sentence = widgets.HTML(layout=widgets.Layout(min_height="3em")).add_class("fy-live")
        self._notes = widgets.HTML(layout=widgets.Layout(min_height="7em"))
        self._helper = Accessible()
        self.redraw()
        super().__init__([self._head(look_for), self._image, self._sentence, self._notes, self._helper])
        self.add_class("fy-box").add_class("fy-panel")
        self.choice.observe(self._choose, "system")

    def _slider(self, control: Control, on_release: bool) -> widgets.SelectionSlider:
        slider = widgets.SelectionSlider(
            options=control.options(self.choice),
            value=control.nearest(control.start),
            description=control.label,
            continuous_update=not on_release,
            style={"description_width": "12.5em"},
            layout=widgets.Layout(width="36em", max_width="100%"),
        )
        slider.observe(lambda change: self._moved(control, change), "value")
        return slider

    def _head(self, look_for) -> widgets.Box:
        back = widgets.Button(description="Back to the start", layout=widgets.Layout(width="11em"))
        back.on_click(lambda _button: self.set(**{control.name: control.start for control in self.controls}))
        title = widgets.HTML(f'<span class="fy-title">{html.escape(self.title)}</span>')
        items = "".join(f"<li>{html.escape(prompt)}</li>" for prompt in look_for)
        prompts = widgets.HTML(f'<span class="fy-title">Look for</span><ol>{items}</ol>' if items else "")
        left = widgets.VBox([title, *self.sliders.values()], layout=widgets.Layout(flex="0 1 37em"))
        right = widgets.VBox([prompts.add_class("fy-look"), back], layout=widgets.Layout(flex="1 1 18em"))
        return widgets.HBox([left, right], layout=widgets.Layout(flex_flow="row wrap"))

    @property
    def values(self) -> dict[str, float]:
        """What the sliders say now, by the names of the compute function."""
        return {name: slider.value for name, slider in self.sliders.items()}

    def set(self, **values: float) -> None:
        """Move several sliders at once (each to its nearest mark) and draw once."""
        with self._without_redraw():
            for control in self.controls:
                if control.name in values:
                    self.sliders[control.name].value = control.nearest(values[control.name])
        self.redraw()

    def _moved(self, control: Control, change) -> None:
        if self._next:
            self._next.cancel()
        self.redraw()
        if self._looks_ahead and not (self._quiet or self._busy):
            marks = control.values()
            onwards = 2 * marks.index(change.new) - marks.index(change.old)
            if 0 <= onwards < len(marks):
                with suppress(RuntimeError):  # outside a kernel nothing runs while the hand rests
                    ahead = self.values | {control.name: marks[onwards]}
                    self._next = asyncio.get_running_loop().call_later(REST, self._foresee, ahead)

    def _foresee(self, values: dict[str, float]) -> None:
        with suppress(Exception):  # what is wrong there is told when somebody goes there
            self._compute(**values)

    def redraw(self, _change=None) -> None:
        """Show what the sliders say at this moment.

        The sliders are read here, not taken from the message that woke us. When one is moved while a computation runs,
        the outcome is dropped and computed again: whatever is shown last was computed from the newest values.
        """
        if self._quiet or self._busy:
            return
        self._busy, values = True, None
        try:
            while values != self.values:
                values = self.values
                image = self._image_for(values)
        finally:
            self._busy = False
        self._publish(image)

    def _image_for(self, values: dict[str, float]) -> bytes:
        """Compute, draw and tell; trouble becomes words, and a picture without curves rather than with old ones."""
        try:
            result = self._compute(**values)
            self._draw(self.picture, result, self.choice)
            self.said, self.trouble = self._tell(result, self.choice), None
            return self.picture.image()
        except Exception as trouble:  # a learner is shown words, never a traceback; tests read .trouble
            self.said, self.trouble = _told(trouble), trouble
            return self.picture.image(moving=False)

    def _publish(self, image: bytes) -> None:
        said = self.said
        self._image.value = image
        self._sentence.value = f'<span class="fy-sentence">{_for_page(said.sentence)}</span>'
        caution = f'<span class="fy-caution">Caution: {_for_page(said.caution)}</span>' if said.caution else ""
        self._notes.value = f'<span class="fy-sure">How sure: {_for_page(said.how_sure)}</span>{caution}'
        self._helper.alt = said.alt or said.sentence

    def _choose(self, _change) -> None:
        """The learner changed the units: new readings on the sliders, new axes, new words, same settings."""
        with self._without_redraw():
            for control in self.controls:
                slider = self.sliders[control.name]
                value = slider.value
                slider.options = control.options(self.choice)
                slider.value = value
        self.picture = self._make_picture(self.choice)
        self.redraw()

    @contextmanager
    def _without_redraw(self):
        self._quiet = True
        try:
            yield
        finally:
            self._quiet = False

    def static(self) -> StaticTwin:
        """The panel as it stands, without sliders, for print."""
        settings = "; ".join(
            f"{control.label} {control.reading(self.sliders[control.name].value, self.choice)}"
            for control in self.controls
        )
        return StaticTwin(self.title, settings, self.said, self.picture.png(), self.picture.width)

    def _repr_mimebundle_(self, **_kwargs):
        """The live panel, and beside it the static twin for places where no widget can live."""
        bundle = super()._repr_mimebundle_(**_kwargs)
        twin = self.static()
        return {**bundle, "text/html": twin._repr_html_(), "text/plain": str(twin)}


def _for_page(text: str) -> str:
    """Text for a page: harmless, and no number parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) (?=[^\d\s(])", "&nbsp;", html.escape(text))


def _told(trouble: Exception) -> Said:
    if isinstance(trouble, ValueError):
        sentence = f"This cannot be worked out: {trouble}"
    else:
        sentence = f"Something in the workbook went wrong ({type(trouble).__name__}: {trouble})."
    return Said(sentence, "not known; no picture is shown for these settings.", alt=f"An empty picture. {sentence}")


def choose_units(choice: Choice) -> widgets.VBox:
    """Buttons with which the learner chooses the units of every panel that was given this choice."""
    names = {"metric (g, mm, °C)": "metric", "US (oz, in, °F)": "us", "both": "both"}
    radio = widgets.RadioButtons(
        options=list(names.items()), value=choice.system, description="Units", layout=widgets.Layout(width="24em")
    )
    traitlets.link((choice, "system"), (radio, "value"))
    return widgets.VBox([radio, Accessible()]).add_class("fy-box")


@dataclass(frozen=True)
class WholeBatch:
    """One move of the whole-batch panel: how the thickest piece loses weight, where to stop, what then.

    `low`, `mid` and `high` are the weight left, as a fraction of the weight as laid, at each of `hours`; `stop_time` is
    in seconds.
    """

    hours: np.ndarray
    low: np.ndarray
    mid: np.ndarray
    high: np.ndarray
    stop_ratio: Band
    stop_time: Band
    verdict: Verdict
    keeping: Keeping


WHOLE_BATCH = (
    Control("thickness", "Usual thickness", "fish", "length", 0.003, 0.015, 0.001, 0.006),
    Control("fat", "Fat in the raw fish", "fish", "percent", 0.0, 0.20, 0.01, 0.06),
    Control("salt", "Salt in brine, by weight", "salt", "percent", 0.0, 0.20, 0.01, 0.08),
    Control("temperature", "Dryer set to", "air", "temperature", 50.0, 75.0, 1.0, 63.0),
)
WHOLE_BATCH_LOOK_FOR = (
    "Twice as thick: twice as long, or more?",
    "More salt: does the fish stop lighter or heavier?",
    "Where does the band get widest, and what does that mean for your own batch?",
)
WHOLE_BATCH_SURE = "8 of 10 batches should lie in the likely range. Trust the scale before the clock."
HEATED = "K1"  # the one reason that speaks for the fish: it was heated through
HORIZONS = (12.0, 24.0, 48.0, 96.0)  # hours; the picture keeps to these, so that it seldom changes its scale
KEPT = 200  # moves whose outcome is kept for when a slider comes back
MEMBERS = 20  # of the ensemble behind one move: enough for a 10–90 % band by eye, few enough to keep up with a hand


def explore_batch(explorer: Explorer, **values: float) -> WholeBatch:
    """The whole chain, from fish to keeping, for one move of the sliders."""
    seen = explorer.at(**values)
    result, hours = seen.load.result, seen.drying["hours_to_target"]
    low, mid, high = np.quantile(result.mass_ratio, [0.1, 0.5, 0.9], axis=0)
    seconds = Band(*(None if time is None else 3600 * time for time in (hours.low, hours.mid, hours.high)))
    ratio = seen.drying["mass_ratio"]
    return WholeBatch(result.times / 3600, low, mid, high, ratio, seconds, seen.verdict, seen.keep)


def whole_batch_picture(_choice: Choice) -> Picture:
    """The frame of the drying curve of the thickest piece."""
    picture = Picture()
    on = figures.axes(picture, "hours in the dryer", "weight left, % of weight as laid", (0, 1), (0, 105))
    figures.add_band(picture, "band", on, 0, "8 of 10 batches")
    figures.add_curve(picture, "curve", on, 0, "thickest piece, middle estimate")
    figures.add_curve(picture, "stop_line", on, 1, "weight to stop at", width=1.8)
    figures.add_point(picture, "stop", on, 0)
    figures.legend(on)
    return picture


def draw_whole_batch(picture: Picture, batch: WholeBatch, _choice: Choice) -> None:
    """Set the curve, its band, and the point where to stop."""
    hours, ratio = _number(batch.stop_time.mid) / 3600, 100 * _number(batch.stop_ratio.mid)
    figures.set_across(picture["curve"].axes, _horizon(hours))
    picture["curve"].set_data(batch.hours, 100 * batch.mid)
    figures.set_band(picture["band"], batch.hours, 100 * batch.low, 100 * batch.high)
    picture["stop_line"].set_data([0, HORIZONS[-1]], [ratio, ratio])
    figures.set_point(picture, "stop", hours, ratio, f"stop here: {ratio:.0f} % left")


def tell_whole_batch(batch: WholeBatch, choice: Choice) -> Said:
    """The verdict in a sentence, the spread in a line, the caution that always stands beside it."""
    ratio = choice.show_band(batch.stop_ratio, "percent")
    if batch.stop_time.mid is None:
        last = choice.show(3600 * batch.hours[-1], "time")
        sentence = f"When to stop is not known: after {last} the thickest piece still weighs more than {ratio}."
    else:
        hours = choice.show_band(batch.stop_time, "time")
        sentence = f"Stop when the thickest piece weighs {ratio} of its weight as laid. That takes {hours}."
    keep, eat = words.headline(batch.verdict, batch.keeping).split("   ")
    sentence = f"{sentence} To keep: {keep}. To eat: {eat}."
    marks = [f"{100 * np.interp(h, batch.hours, batch.mid):.0f} % after {h} hours" for h in (3, 6, 12)]
    alt = f"A falling curve of weight left against hours: {', '.join(marks)}, inside a hatched band. {sentence}"
    return Said(sentence, WHOLE_BATCH_SURE, f"{_why(batch.verdict)} {words.caution_line()}".strip(), alt)


def _why(verdict: Verdict) -> str:
    """The first thing that speaks against eating or keeping the fish as it is."""
    return next((reason.text for reason in verdict.reasons if reason.rule != HEATED), "")


def _number(value: float | None) -> float:
    return np.nan if value is None else value


def _horizon(hours: float) -> float:
    """The shortest of the fixed time scales that shows this time with room to spare; the longest when it is unknown."""
    return next((horizon for horizon in HORIZONS if horizon >= 1.25 * hours), HORIZONS[-1])


def whole_batch_panel(batch: Batch | None = None, choice: Choice | None = None) -> Panel:
    """Sliders for the whole way from fish to a dry piece, for a batch (the demonstration batch when none is given)."""
    explorer = Explorer(batch or demo_batch("heron"), MEMBERS)
    return Panel(
        "A whole batch: from wet fish to the weight at which to stop",
        WHOLE_BATCH,
        lru_cache(KEPT)(partial(explore_batch, explorer)),
        whole_batch_picture,
        draw_whole_batch,
        tell_whole_batch,
        choice=choice,
        look_for=WHOLE_BATCH_LOOK_FOR,
        look_ahead=True,
    )
