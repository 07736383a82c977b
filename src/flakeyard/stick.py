"""A stick for people without Python: explorers, kitchen pages, handouts, worksheets and cards, and one page that lists them."""

from __future__ import annotations

import html
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from flakeyard import kit
from flakeyard.files import write_whole
from flakeyard.messages import draft_line, say
from flakeyard.steps.intent.batch_file import load_batch
from flakeyard.workbook import own, words

TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)
PLACES = (  # folder, files in it, and the message that heads them: in the order in which a learner wants them
    ("kitchen", "*.html", "stick.kitchen"), ("explorers", "*.html", "stick.explorers"), ("papers", "card-*.pdf", "stick.cards"),
    ("papers", "worksheets.pdf", "stick.worksheets"), ("handouts", "*.html", "stick.handouts"),
)  # fmt: skip


def fill(course: Path, out: Path, batches: list[str], without: list[str] = ()) -> Path:
    """Write everything to a folder and the page of contents last; ``batches`` are files that get a kitchen page too.

    Raises: InputError for a batch file that cannot be read, OSError when the folder cannot be written
    """
    told = {Path(file).stem: load_batch(file) for file in batches}
    out.mkdir(parents=True, exist_ok=True)
    kit.write_papers(course, out, without)
    if "kitchen" not in without:
        write_kitchen_pages({name: own.demo_batch(name) for name in own.DEMO_BATCHES} | told, out / "kitchen")
    return write_contents(out)


def write_kitchen_pages(batches: dict, folder: Path) -> None:
    """A page for the phone beside the dryer, for each of some batches by name."""
    from flakeyard.workbook.pages import kitchen_page

    folder.mkdir(exist_ok=True)
    for name, batch in batches.items():
        print(say("stick.writing", name=name), file=sys.stderr, flush=True)
        write_whole(folder / f"{name}.html", kitchen_page.kitchen_page(batch, "metric", name))


def write_contents(out: Path) -> Path:
    """The page that lists what lies on the stick, by what it is for."""
    from flakeyard.workbook.paper.handout import page_of

    return write_whole(out / "index.html", page_of(say("stick.title"), "\n".join(_lines(out))))


def _lines(out: Path) -> Iterator[str]:
    yield f"<h1>{_told('stick.title')}</h1><p>{_told('stick.how')}</p>"
    for folder, pattern, message in PLACES:
        found = [path for path in sorted((out / folder).glob(pattern)) if path.name != "index.html"]
        if found:
            yield f"<h2>{_told(message)}</h2><p>{_told(f'{message}_for')}</p><ul>"
            yield from (f'<li><a href="{folder}/{html.escape(path.name)}">{_name_of(path)}</a></li>' for path in found)
            yield "</ul>"
    yield f"<blockquote>{html.escape(' '.join([words.caution_line(), draft_line()]).strip())}</blockquote>"


def _told(name: str) -> str:
    return html.escape(say(name))


def _name_of(path: Path) -> str:
    """The title of a page, as it stands in it; of anything else its name."""
    found = TITLE.search(path.read_text(encoding="utf-8")) if path.suffix == ".html" else None
    return found[1] if found else html.escape(path.stem.replace("-", " "))
