"""Handouts: every workbook as one page of plain HTML that asks nothing of a network, and as PDF where a Chromium is found.

A page is made from the outputs stored in the workbook. Panels appear as their standing pictures, formulas as MathML,
code is left out. Answers to exercises stay folded on the screen and are printed in full.
"""

from __future__ import annotations

import base64
import html
import json
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from flakeyard.files import write_whole
from flakeyard.messages import code, say
from flakeyard.workbook import words
from flakeyard.workbook.reference import reference_page

MATH = re.compile(r"\$\$(?P<block>.+?)\$\$|(?<![\\$\w])\$(?=\S)(?P<inline>[^$\n]+?)(?<=\S)\$(?!\d)", re.DOTALL)
ON_SCREEN = re.compile(  # in a sentence that only somebody before a screen can follow
    r"\b(?:[Cc]lick|[Dd]rag|[Pp]ress|[Bb]uttons?|[Ss]liders?|[Cc]ells?|[Tt]ype|[Ss]creen|[Pp]ython|scratch copy|folded)\b|"
    r"\b(?:the|in the|both in the|same) panel\b|\*(?:Save|Keep|Event)\b|under \*|table \(without the dial\)|then look at|[Tt]ry both|"
    r"\bSet \*|\bWeigh it instead\b|then the reason|where you were before|sources\.csv|[Ll]eave empty"
)
FOR_THE_SCREEN = re.compile(r"Shift \+ Enter|my-batch\.toml")  # a paragraph of nothing else
SENTENCES = re.compile(r"(?<=[.?!])(?<!\*\*[A-C]\.) +(?=[A-Z*\[])")
REWORDED = (  # what a sentence keeps on paper
    (r"(?<=\*\*[A-C]\.) With the panel\.(?=\*\*)", ""), (r"(?<=\*\*[A-C]\.) With a pencil,\*\* and a field\.", "** With a pencil."),
    (r"Back to the start[;,] then (\w)", "\x01\\1"), (r"Drag back to \*as laid only\* and (\w)", "\x01\\1"),
    (r"Choose it under \*Event\*: (\w)", "\x01\\1"), (r" \(under \*More\*\)", ""), (r"; grey is where you were before", ""),
    (r" in `my-dryer\.toml`", ""), (r"(?<=A choice\.\*\*) (?:Answer|Decide|First your guess)[^\n]*", ""),
)  # fmt: skip
NEEDS_CODE = re.compile(r"\*\*C\. With code\.")
WAY = re.compile(r"\[?Previous:[^\n]*")  # to other lessons
KITCHEN = "## Your kitchen"
WIDGET = re.compile(r"\w+\(children=|AppLayout\(|HTML\(|Dropdown\(|Button\(")
LEADS = re.compile(r"\n\n[^\n]*:\s*$")
NO_HEAD = re.compile(r"<thead>\s*<tr>(?:\s*<th[^>]*>\s*</th>)+\s*</tr>\s*</thead>")
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"  # the page itself forbids every request
LESSONS = "en"  # the language of their prose
PAPER_WIDTH = {"a4": "A4", "letter": "Letter"}
STYLE = """
body { font: 17px/1.5 'DejaVu Sans', Verdana, sans-serif; color: #111; background: #fff; max-width: 46em; margin: 0 auto; padding: 1em; }
h1 { font-size: 1.7em; line-height: 1.2; } h2 { font-size: 1.25em; margin-top: 1.6em; border-bottom: 1px solid #999; }
table { border-collapse: collapse; margin: 0.8em 0; } th, td { border: 1px solid #999; padding: 0.25em 0.6em; text-align: left; vertical-align: top; }
blockquote { border-left: 5px double #333; margin: 1em 0; padding: 0.1em 1em; }
pre { background: #f3f3f3; padding: 0.6em; white-space: pre-wrap; font: 14px/1.4 'DejaVu Sans Mono', monospace; }
img { max-width: 100%; height: auto; } figure { margin: 1em 0 !important; border: 1px solid #999; padding: 0.7em; }
details { border: 1px solid #999; padding: 0.4em 0.8em; margin: 0.8em 0; } summary { font-weight: bold; cursor: pointer; }
math[display=block] { margin: 1em 0; font-size: 1.15em; } .write { border-bottom: 1px solid #333; min-height: 1.8em; }
@media screen { .scroll, .formula { overflow-x: auto; } } .formula { display: block; } a { color: #0645ad; } footer { margin-top: 2em; border-top: 1px solid #999; font-size: 0.9em; }
@page { size: PAPER; margin: 11mm 14mm; }
@media print { body { font: 10.4pt/1.38 'DejaVu Sans Condensed', 'DejaVu Sans', Arial, sans-serif; max-width: none; padding: 0; }
  a { color: inherit; text-decoration: none; } .way { display: none; }
  h1 { font-size: 1.5em; margin: 0 0 0.3em; } h2 { margin: 0.9em 0 0.4em; } p, ul, ol { margin: 0.5em 0; } li { margin: 0.1em 0; }
  table { font-size: 9.5pt; margin: 0.5em 0; } th, td { padding: 0.14em 0.5em; } details, blockquote, figure, pre { margin: 0.5em 0 !important; }
  figure { padding: 0.4em; } pre { font-size: 9.5pt; padding: 0.3em; }
  h2, summary { break-after: avoid; } img { max-height: 160mm; width: auto !important; } figure img { width: 100% !important; } footer { margin-top: 0.5em; } footer p { margin: 0; }
  figure, tr, pre, blockquote, li, img, details { break-inside: avoid; } thead { display: table-header-group; } }
"""


def write_handouts(course: Path, out: Path, paper: str = "a4", chromium: str | None = None) -> list[Path]:
    """Write a page for every workbook of the course folder, the front door, an index, and PDFs when the path of a Chromium is given.

    Raises: OSError when the folder cannot be written.
    """
    out.mkdir(parents=True, exist_ok=True)
    written, titles = [], {}
    for workbook in sorted((course / "workbooks").glob("*.ipynb")):
        titles[workbook.stem], page = handout(workbook, paper)
        path = out / f"{workbook.stem}.html"
        written.append(write_whole(path, page))
        if chromium:
            written.append(print_page(page, path.with_suffix(".pdf"), chromium))
    lines = [f"- [{title}]({stem}.html)" + f" ([PDF]({stem}.pdf))" * bool(chromium) for stem, title in titles.items()]
    title, reference = say("reference.title"), out / "reference.html"
    write_whole(reference, page_of(title, rendered(reference_page()), paper, LESSONS))
    lines.append(f"- [{title}]({reference.name})")
    body = rendered("\n\n".join([f"# {say('handout.title')}", "\n".join(lines), f"> {words.caution_line()}"]))
    index = out / "index.html"
    write_whole(index, page_of(say("handout.title"), body, paper))
    return [index, *written]


def handout(workbook: Path, paper: str = "a4") -> tuple[str, str]:
    """Title and page of one workbook."""
    cells = json.loads(workbook.read_text(encoding="utf-8"))["cells"]
    title = next((match[1] for cell in cells if (match := re.match(r"# (.+)", "".join(cell["source"])))), workbook.stem)
    body = "\n".join(_sections(cells, workbook.parent))
    foot = f"<footer><p>{html.escape(words.caution_line())}</p></footer>"
    return title, page_of(title, body + foot, paper, LESSONS)


def _sections(cells: list[dict], folder: Path) -> Iterator[str]:
    """The cells as HTML; what a folded answer's own cell prints goes into the fold."""
    shown = []
    for cell in _for_reading(cells):
        if not _repeats(cell):
            shown.append(cell)
        elif shown and shown[-1]["cell_type"] == "markdown":  # and the words that lead to it
            shown[-1] = shown[-1] | {"source": LEADS.sub("", "".join(shown[-1]["source"]))}
    folded = None
    for cell, following in zip(shown, [*shown[1:], None], strict=True):
        tags = cell["metadata"].get("tags", ())
        if cell["cell_type"] == "markdown":
            page = rendered("".join(cell["source"]), folder)
            if following and "solution" in tags and following["cell_type"] == "code":
                folded = following
                page = page.replace("</details>", "".join(_outputs(following)) + "</details>")
            yield page
        elif cell is not folded and "solution" not in tags and "setup" not in tags:
            yield from _outputs(cell)


def _for_reading(cells: list[dict]) -> Iterator[dict]:
    """The cells without what wants a screen: forms, exercises by code with their answers, and words on how to use either."""
    by_code = False
    for cell in cells:
        source, tags = "".join(cell["source"]), cell["metadata"].get("tags", ())
        if cell["cell_type"] == "markdown":
            by_code = bool({"exercise", "solution"} & set(tags)) and (by_code or bool(NEEDS_CODE.search(source)))
            if not by_code and (text := for_paper(source)):
                yield cell | {"source": text}
        elif not by_code and not source.lstrip().startswith("fy.form("):
            yield cell


def for_paper(text: str) -> str:
    """What a lesson says, without sentences that only somebody before a screen can follow; "" where none is left."""
    for screen, paper in REWORDED:
        text = re.sub(screen, paper, text)
    text = re.sub(r"\x01(\w)", lambda found: found[1].upper(), text)
    text = WAY.sub(lambda found: f'<span class="way">{found[0]}</span>', text)
    told = [_said(part) for part in text.split("\n\n")]
    if text.startswith(KITCHEN):
        told.append(say("handout.kitchen"))
    return "\n\n".join(part for part in told if part)


def _said(paragraph: str) -> str:
    if FOR_THE_SCREEN.search(paragraph):
        return ""
    lines = (
        " ".join(one for one in SENTENCES.split(line) if not ON_SCREEN.search(one)) for line in paragraph.split("\n")
    )
    return "\n".join(line for line in lines if line)


def _repeats(cell: dict) -> bool:
    """A cell that shows the standing picture of a panel which stands there already."""
    return cell["cell_type"] == "code" and bool(re.fullmatch(r"\w+\.static\(\)", "".join(cell["source"]).strip()))


def _outputs(cell: dict) -> Iterator[str]:
    for output in cell.get("outputs", ()):
        data = output.get("data", {})
        text = "".join(output.get("text", data.get("text/plain", "")))
        if "text/html" in data:
            yield f'<div class="scroll">{"".join(data["text/html"])}</div>'
        elif "text/markdown" in data:
            yield rendered("".join(data["text/markdown"]))
        elif "image/png" in data:
            yield f'<img alt="{html.escape(say("handout.picture"))}" src="data:image/png;base64,{"".join(data["image/png"])}">'
        elif text and not WIDGET.match(text):
            yield f"<pre>{html.escape(text.rstrip())}</pre>"


def rendered(text: str, folder: Path | None = None) -> str:
    """Markdown as HTML: formulas as MathML, pictures inside the page, links to workbooks turned to handouts."""
    import mistune

    formulas: list[str] = []
    kept = MATH.sub(lambda match: _keep(match, formulas), text)
    page = mistune.create_markdown(escape=False, plugins=["table", "strikethrough"])(kept)
    page = re.sub(r"\x02(\d+)\x03", lambda match: formulas[int(match[1])], page)
    page = re.sub(r'href="([\w-]+)\.ipynb"', r'href="\1.html"', page)
    page = re.sub(r'href="\.\./README\.md"', 'href="index.html"', page)
    page = re.sub(r'<a href="(?!https?:|#|[\w-]+\.(?:html|pdf)")[^"]*">(.*?)</a>', r"\1", page, flags=re.DOTALL)
    page = NO_HEAD.sub("", page)
    page = page.replace("<table>", '<div class="scroll"><table>').replace("</table>", "</table></div>")
    return re.sub(r'src="(?!data:)([^"]+)"', lambda match: f'src="{_inside(match[1], folder)}"', page)


def _keep(match: re.Match, formulas: list[str]) -> str:
    from latex2mathml.converter import convert

    block = match["block"] is not None
    shown = convert((match["block"] or match["inline"]).strip(), display="block" if block else "inline")
    formulas.append(f'<span class="formula">{shown}</span>' if block else shown)
    return f"\x02{len(formulas) - 1}\x03"


def _inside(source: str, folder: Path | None) -> str:
    """A picture beside the workbook as data inside the page; one that is not there leaves its words only."""
    path = (folder or Path()) / source
    if not path.is_file():
        return "data:,"
    return f"data:image/{path.suffix[1:]};base64,{base64.b64encode(path.read_bytes()).decode()}"


def page_of(title: str, body: str, paper: str = "a4", language: str = "") -> str:
    """A whole page that may not ask for anything from outside; in the language chosen, where no other is named."""
    return (
        f'<!doctype html>\n<html lang="{language or code()}"><head><meta charset="utf-8"><title>{html.escape(title)}</title>'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{STYLE.replace('PAPER', PAPER_WIDTH[paper])}</style></head>\n<body><main>{body}</main></body></html>\n"
    )


def find_chromium() -> str | None:
    """A Chromium or its kin on this computer."""
    names = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
    return next((found for name in names if (found := shutil.which(name))), None)


def print_page(page: str, path: Path, chromium: str) -> Path:
    """Print a page with its folds open, as tagged PDF.

    Raises: OSError when the browser writes no PDF.
    """
    with tempfile.TemporaryDirectory() as place:
        source = Path(place, "page.html")
        source.write_text(page.replace("<details>", "<details open>"), encoding="utf-8")
        command = [
            chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
            f"--user-data-dir={place}/profile", "--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer",
            "--export-tagged-pdf", f"--print-to-pdf={Path(place, 'page.pdf')}", source.as_uri(),
        ]  # fmt: skip
        subprocess.run(command, capture_output=True, timeout=120, check=False)
        if not Path(place, "page.pdf").is_file():
            raise OSError(say("handout.no_pdf", program=chromium))
        return write_whole(path, Path(place, "page.pdf").read_bytes())
