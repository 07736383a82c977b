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
from collections.abc import Callable, Iterable, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace

import ipywidgets as widgets
import traitlets

from flakeyard import units
from flakeyard.messages import say
from flakeyard.steps.intent.spread import Band
from flakeyard.workbook.accessible import Accessible
from flakeyard.workbook.panels import figures
from flakeyard.workbook.panels.figures import Picture

GROUPS = ("fish", "salt", "air", "keeping")  # the one order of sliders in every workbook
REST = 0.03  # s without a move, after which the next move is worked out


class Choice(traitlets.HasTraits):
    """The units a learner wants to read; made once in a workbook and handed to its panels."""

    system = traitlets.Enum(("metric", "us", "both"), default_value="both")

    def __init__(self, system: str = "both"):
        super().__init__(system=system)

    def _repr_mimebundle_(self, **kwargs):
        """Shown on a page, a choice is the buttons to change it with."""
        return choose_units(self)._repr_mimebundle_(**kwargs)

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
class AsTold(Control):
    """A slider at one mark of which the batch is as it was told, though that is no mark of it: there it says so."""

    told: float = float("nan")

    def reading(self, value: float, choice: Choice) -> str:
        return say("panel.as_told") if value == self.told else super().reading(value, choice)


def usual_start(controls: Iterable[Control]) -> dict[str, float]:
    """Where sliders begin that nobody told anything of."""
    return {one.name: one.start for one in controls}


def start_at(controls: Iterable[Control], told: Mapping[str, float], batch) -> tuple[Control, ...]:
    """Sliders that begin at a batch, each at the mark nearest to what was told; a dry cure is no mark of a brine."""
    made = tuple(replace(one, start=one.nearest(told[one.name])) for one in controls)
    dry = batch.brine is not None and not batch.wet_brine
    return tuple(AsTold(**vars(one), told=one.start) if dry and one.name == "salt" else one for one in made)


def as_told(controls: Iterable[Control], told: Mapping[str, float]) -> dict[str, float]:
    """The marks at which sliders stand for what was told: without those whose range it lies outside of."""
    return {one.name: one.start for one in controls if abs(told[one.name] - one.start) <= 0.5 * one.step + 1e-9}


@dataclass(frozen=True)
class NamedControl(Control):
    """A slider over a list of names, the first of them at its low end; its value counts on from there."""

    names: tuple[str, ...] = ()

    def reading(self, value: float, choice: Choice) -> str:
        return self.names[round(value - self.low)]


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
        self._sentence = widgets.HTML(layout=widgets.Layout(min_height="6.5em")).add_class("fy-live")
        self._notes = widgets.HTML(layout=widgets.Layout(min_height="9em"))
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
            self.said, self.trouble = told_trouble(trouble), trouble
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


def told_trouble(trouble: Exception) -> Said:
    """What a learner reads where nothing could be worked out."""
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
