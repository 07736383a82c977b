"""The learner's own numbers: a small file that holds what was told and nothing else, kept at once, never overwritten.

Every later workbook reads it. What a batch needs besides is the demonstration's, is named, and is not written down.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import ipywidgets as widgets
import tomli_w

from flakeyard import reading
from flakeyard.files import why, write_whole
from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import load_batch, written
from flakeyard.steps.intent.partial import borrowed_words, filled, retold
from flakeyard.steps.intent.records import Batch
from flakeyard.units import InputError
from flakeyard.workbook.form import FormField, as_told, field, form

FILE = "my-batch.toml"
FORM = (
    FormField("fish", "species", say("own.fish")),
    FormField("fish", "raw_weight", say("own.weight_trimmed")),
    FormField("cut", "thickness", say("own.usual_thickness")),
    FormField("cut", "thinnest", say("own.thinnest_piece")),
    FormField("cut", "thickest", say("own.thickest_piece")),
    FormField("dryer", "temperature", say("own.dryer_set")),
)
DEMO_BATCHES = ("heron", "otter", "kingfisher")
OF_ONE_FISH = {
    "fish": None,
    "heat": ("weight_after",),
    "measured": None,
    "keep": ("measured_water_activity", "measured_error", "measured_at"),
}


def demo_batch(name: str) -> Batch:
    """One of the invented batches of the demo class: heron, otter or kingfisher."""
    folders = (course_folder_without_copying() / "data_demo", Path(str(files("flakeyard"))) / "course" / "data_demo")
    return load_batch(next(folder / f"{name}.toml" for folder in folders if (folder / f"{name}.toml").exists()))


def course_folder_without_copying() -> Path:
    """The source tree this package runs from (an installed package has its course inside)."""
    return Path(str(files("flakeyard"))).parents[1]


def read_told(folder: str | Path = ".") -> dict:
    """What the learner's file tells, as typed; nothing where there is no file. Raises: InputError."""
    path = Path(folder) / FILE
    told = reading.read_toml(reading.read_text(path, say("own.batch_file")), FILE) if path.exists() else {}
    whole(told)
    return told


def own_told(folder: str | Path = ".") -> dict:
    """What the learner's file tells; a file that cannot be read tells nothing (it stays as a numbered copy)."""
    try:
        return read_told(folder)
    except InputError:
        return {}


def whole(told: dict) -> Batch:
    """The batch from what is told, with what no batch can do without borrowed from the demonstration."""
    return filled(told, demo_batch("heron"))


def own_batch(folder: str | Path = ".") -> Batch:
    """The learner's batch if there is a file that can be read, else the demo batch Heron; a file stays as it is."""
    try:
        told = read_told(folder)
    except InputError as mistake:
        print(say("own.unusable", file=FILE, why=mistake))
        told = {}
    if not told:
        return demo_batch("heron")
    batch = whole(told)
    if batch.borrowed:
        print(still_borrowed(batch))
    return batch


def still_borrowed(batch: Batch) -> str:
    """What of a batch nobody has told yet; "" where it is whole."""
    words = borrowed_words(batch)
    return say("own.still_borrowed", what=words) if words else ""


def own_fields(entries, folder: str | Path) -> dict[tuple[str, str], widgets.Widget]:
    """Fields for some entries, by section and name; what is borrowed stands in them to be seen."""
    told = own_told(folder)
    borrowed, lent = whole(told).borrowed, written(demo_batch("heron"))
    return {
        (one.section, one.name): field(one, told, lent if f"{one.section}.{one.name}" in borrowed else {})
        for one in entries
    }


def own_batch_form(folder: str | Path = ".") -> widgets.VBox:
    """A form with the numbers that matter most; what is typed is checked and kept in ``my-batch.toml`` on Save.

    An existing file stays as a numbered copy. A mistake is said under the form, and nothing typed is lost.
    """
    fields = own_fields(FORM, folder)
    return form([*fields.values()], say("own.save_my_numbers"), lambda: keep_numbers(typed_in(fields), folder))


def typed_in(fields: dict[tuple[str, str], widgets.Widget]) -> dict[tuple[str, str], str]:
    """What stands in the fields of a form."""
    return {place: one.value for place, one in fields.items()}


def keep_numbers(typed: dict[tuple[str, str], str], folder: str | Path = ".") -> str:
    """Check what was typed and write it to the batch file; returns what to tell the learner."""
    return save(lambda told: with_fields(_of_this_fish(told, typed), typed), folder, _how_to_plan)


def _of_this_fish(told: dict, typed: dict[tuple[str, str], str]) -> dict:
    """What is told, without what is true of one fish only where another one is typed now."""
    before, species = told.get("fish", {}), typed.get(("fish", "species"), "").strip()
    if not species or before.get("species", species if "water" not in before else None) == species:
        return told
    for section, keys in OF_ONE_FISH.items():
        told = retold(told, section, **dict.fromkeys(told.get(section, {}) if keys is None else keys))
    return told


def _how_to_plan(batch: Batch) -> str:
    return "" if batch.borrowed else say("own.plan_it", file=FILE)


def with_fields(told: dict, typed: dict[tuple[str, str], str]) -> dict:
    """What is told, with the fields of a form as typed now; an empty one is taken out."""
    for (section, name), text in typed.items():
        told = retold(told, section, **{name: as_told(section, name, text)})
    return told


def save(change: Callable[[dict], dict], folder: str | Path, tell: Callable[[Batch], str]) -> str:
    """Change what the file tells, check it, write it; an older file stays as a numbered copy.

    The file is read again here, so that what another form has saved meanwhile is not lost.

    Parameters: change – from what is told to what is told now; tell – what to say of the batch that comes of it
    Returns: what to tell the learner
    """
    try:
        told = change(own_told(folder))
        batch = whole(told)
        said = tell(batch)
        path = write_whole(Path(folder) / FILE, tomli_w.dumps(told), keep_copy=True)
    except InputError as mistake:
        return say("book.not_saved", why=mistake)
    except OSError as trouble:
        return say("book.not_saved", why=why(trouble))
    return " ".join(filter(None, (say("own.saved", file=path.name), said, still_borrowed(batch))))
