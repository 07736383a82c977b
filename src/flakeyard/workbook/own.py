"""The learner's own numbers: a small batch file that every later workbook reads, kept at once and never overwritten."""

from __future__ import annotations

import html
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import ipywidgets as widgets

from flakeyard.files import why
from flakeyard.steps.intent.batch_file import load_batch, said, save_batch, with_typed
from flakeyard.steps.intent.records import Batch
from flakeyard.units import InputError
from flakeyard.workbook.accessible import Accessible

FILE = "my-batch.toml"
HISTORY = (  # what is true of one fish only; not told is not known
    "fat", "water", "protein", "ash", "stock", "frozen_at", "frozen_days", "origin", "gutted", "hours_above_4c",
    "hours_above_21c", "warmest", "smells_normal", "thawed_in_vacuum",
)  # fmt: skip
FORM = (  # section, field, label
    ("fish", "species", "Fish"),
    ("fish", "raw_weight", "Weight, trimmed"),
    ("cut", "thickness", "Usual thickness"),
    ("cut", "thinnest", "Thinnest piece"),
    ("cut", "thickest", "Thickest piece"),
    ("dryer", "temperature", "Dryer set to"),
)


def demo_batch(name: str) -> Batch:
    """One of the invented batches of the demo class: heron, otter or kingfisher."""
    folders = (course_folder_without_copying() / "data_demo", Path(str(files("flakeyard"))) / "course" / "data_demo")
    return load_batch(next(folder / f"{name}.toml" for folder in folders if (folder / f"{name}.toml").exists()))


def course_folder_without_copying() -> Path:
    """The source tree this package runs from (an installed package has its course inside)."""
    return Path(str(files("flakeyard"))).parents[1]


def own_batch(folder: str | Path = ".") -> Batch:
    """The learner's batch file if there is one that can be read, else the demo batch Heron; a file stays as it is."""
    path = Path(folder) / FILE
    if not path.exists():
        return demo_batch("heron")
    try:
        return load_batch(path)
    except InputError as mistake:
        print(f"{FILE} cannot be used yet, so the demo batch Heron stands in. {mistake}")
        return demo_batch("heron")


def batch_to_keep(folder: str | Path = ".") -> Batch:
    """The batch that what is typed goes into: the learner's own, or the plan of Heron without the history of its fish.

    Whether Heron's trout was gutted or kept cold says nothing of the learner's fish.
    """
    try:
        return load_batch(Path(folder) / FILE)
    except InputError:  # none there yet, or one that cannot be read
        return replace(without_history(demo_batch("heron")), title="My own batch")


def without_history(batch: Batch) -> Batch:
    """The batch with another fish of the kind, of which nothing else is told."""
    return replace(batch, fish=replace(batch.fish, **dict.fromkeys(HISTORY)))


def own_batch_form(folder: str | Path = ".") -> widgets.VBox:
    """A form with the numbers that matter most; what is typed is checked and kept in ``my-batch.toml`` on Save.

    An existing file stays as a numbered copy. A mistake is said under the form, and nothing typed is lost.
    """
    batch = own_batch(folder)
    fields = {
        (section, name): widgets.Text(
            value=said(batch, section, name), description=label,
            continuous_update=False, style={"description_width": "10em"}, layout=widgets.Layout(width="28em"),
        )
        for section, name, label in FORM
    }  # fmt: skip
    save = widgets.Button(description="Save my numbers")
    told = widgets.HTML("Nothing is saved yet.").add_class("fy-live")

    def keep(_button) -> None:
        typed = {place: field.value for place, field in fields.items()}
        told.value = html.escape(keep_numbers(batch_to_keep(folder), typed, folder))

    save.on_click(keep)
    return widgets.VBox([*fields.values(), save, told, Accessible()]).add_class("fy-box")


def keep_numbers(batch: Batch, typed: dict[tuple[str, str], str], folder: str | Path = ".") -> str:
    """Check what was typed and write it to the batch file; returns what to tell the learner."""
    try:
        changes: dict[str, dict] = {}
        for (section, name), value in typed.items():
            changes.setdefault(section, {})[name] = value.strip() or None
        species = (typed.get(("fish", "species")) or "").strip()
        changed = without_history(batch) if species and species != batch.fish.species else batch
        for section, values in changes.items():
            changed = with_typed(changed, section, **values)
        path = save_batch(changed, Path(folder) / FILE)
    except InputError as mistake:
        return f"Not saved: {mistake}"
    except OSError as trouble:
        return f"Not saved: {why(trouble)}"
    return f"Saved in {path.name}. Plan it with: flakeyard plan {path.name}"
