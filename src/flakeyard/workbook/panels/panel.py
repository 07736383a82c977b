"""What every panel shares: the units a learner chose, sliders, what is said in words, and a panel as it stands on paper.

A panel is put together from plain functions and never holds any arithmetic itself; `live` says which. Slider values are in
the units of the models (m, degC, fractions); every number a learner sees goes through `units.show` with the unit system
of a `Choice`, which is handed to each panel.
"""

import base64
import html
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import ipywidgets as widgets
import traitlets

from flakeyard import units
from flakeyard.files import write_whole
from flakeyard.messages import say
from flakeyard.steps.intent.spread import Band
from flakeyard.workbook.accessible import Accessible

GROUPS = ("fish", "salt", "air", "keeping")  # the one order of sliders in every workbook


SYSTEMS = ("metric", "us", "both")
UNITS_FILE = ".flakeyard-units"  # beside the workbooks: one word


def kept_units() -> str:
    """The units chosen in this folder before; "both" where none were, or the file says something else."""
    with suppress(OSError, ValueError):
        kept = Path(UNITS_FILE).read_text(encoding="utf-8").strip()
        return kept if kept in SYSTEMS else "both"
    return "both"


def keep_units(change) -> None:
    """Keep a choice for the next workbook; a folder that cannot be written to keeps none."""
    with suppress(OSError):
        write_whole(UNITS_FILE, f"{change['new']}\n")


class Choice(traitlets.HasTraits):
    """The units a learner wants to read; made once, kept for the next workbook, and handed to its panels."""

    system = traitlets.Enum(SYSTEMS, default_value="both")

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
        middle, likely = self.show(band.mid, kind, **how), self.likely(band, kind, **how)
        return say("panel.likely", middle=middle, likely=likely) if likely else middle

    def likely(self, band: Band, kind: str, **how) -> str:
        """The ends of a band; nothing when it has no spread to be seen."""
        if band.mid is None or band.low == band.high:
            return ""
        if band.high is None:
            return say("panel.or_more", least=self.show(band.low, kind, **how))
        likely = units.show_band(band.low, band.high, kind, self.system, **how)
        return "" if likely == self.show(band.mid, kind, **how) else likely


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
        lines = [self.title, self.settings, said.sentence, say("panel.how_sure", text=said.how_sure)]
        return "\n".join(lines + ([say("panel.caution", text=said.caution)] if said.caution else []))

    def _repr_html_(self) -> str:
        data = base64.b64encode(self.png).decode()
        lines = [
            f"<strong>{_for_page(self.said.sentence)}</strong>",
            say("panel.how_sure", text=_for_page(self.said.how_sure)),
        ]
        lines += [say("panel.caution", text=_for_page(self.said.caution))] if self.said.caution else []
        return (
            f'<figure style="margin:0"><figcaption><strong>{html.escape(self.title)}</strong><br>'
            f"{_for_page(self.settings)}</figcaption>"
            f'<img width="{self.width}" alt="{html.escape(self.said.alt)}" src="data:image/png;base64,{data}">'
            f"<div>{'<br>'.join(lines)}</div></figure>"
        )


def _for_page(text: str) -> str:
    """Text for a page: harmless, and no number parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) (?=[^\d\s(])", "&nbsp;", html.escape(text))


def told_trouble(trouble: Exception) -> Said:
    """What a learner reads where nothing could be worked out."""
    if isinstance(trouble, ValueError):
        sentence = say("panel.cannot", trouble=trouble)
    else:
        sentence = say("panel.went_wrong", kind=type(trouble).__name__, trouble=trouble)
    return Said(sentence, say("panel.no_picture"), alt=say("panel.empty", sentence=sentence))


def choose_units(choice: Choice) -> widgets.VBox:
    """Buttons with which the learner chooses the units of every panel that was given this choice."""
    names = {say(f"panel.units.{system}"): system for system in ("metric", "us", "both")}
    radio = widgets.RadioButtons(
        options=list(names.items()),
        value=choice.system,
        description=say("panel.units"),
        layout=widgets.Layout(width="auto"),
    ).add_class("fy-units")
    traitlets.link((choice, "system"), (radio, "value"))
    choice.observe(keep_units, "system")  # one and the same, however often it is shown
    return widgets.VBox([radio, Accessible()]).add_class("fy-box")
