"""Handouts as pages: everything inside, nothing asked from outside, nothing of Python left in them."""

import json
import re
import shutil
import unicodedata
from html.parser import HTMLParser
from pathlib import Path

import pytest

from flakeyard.messages import say
from flakeyard.workbook import words
from flakeyard.workbook.paper import handout

ROOT = Path(__file__).resolve().parents[3]
WORKBOOKS = sorted((ROOT / "workbooks").glob("*.ipynb"))
SEEN = {"Untold salt and heating count as none."}  # of the form for one's own numbers, which is not on paper
each = pytest.mark.parametrize("workbook", WORKBOOKS, ids=lambda path: path.stem)


class Reader(HTMLParser):
    """Every tag with its attributes, and that each is closed."""

    VOID = frozenset({"meta", "img", "br", "hr", "input"})

    def __init__(self, page):
        super().__init__()
        self.tags, self.open = [], []
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@each
def test_a_handout_asks_nothing_from_outside(workbook):
    reader = Reader(handout.handout(workbook)[1])
    assert reader.open == []
    assert not [tag for tag, _ in reader.tags if tag in ("script", "link", "iframe", "object")]
    for tag, attributes in reader.tags:
        assert attributes.get("src", "data:").startswith("data:"), tag
        assert "srcset" not in attributes and "url(" not in attributes.get("style", "")
    policy = next(a["content"] for tag, a in reader.tags if a.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'")


@each
def test_a_handout_speaks_to_somebody_with_paper(workbook):
    page = re.sub(r'"data:[^"]*"|<style>.*?</style>', "", handout.handout(workbook)[1], flags=re.DOTALL)
    text = re.sub(r"<[^>]+>", " ", page)
    talk = r"Shift|Enter|[Cc]lick|[Dd]rag\b|[Bb]utton|[Ss]lider|\bcells?\b|[Ss]croll|[Ss]creen|Python|With code|With the panel|my-\w+\.toml|not yet|\*\*"
    assert not [text[max(0, found.start() - 40) : found.end() + 40] for found in re.finditer(talk, text)]
    assert say("handout.kitchen") in text and "Key points" in text


def test_what_only_a_screen_needs_goes_and_cautions_stay():
    said = "It begins wet. Drag its lower face, or the line. Set *thicker* to 0 %."
    assert handout.for_paper(said) == "It begins wet."
    assert handout.for_paper("Run the cells with **Shift + Enter**. Then look.") == ""
    assert handout.for_paper("**B. A choice.** Answer, then try it in the panel.") == "**B. A choice.**"
    assert (
        handout.for_paper("**A. With the panel.** Back to the start, then cut thicker. Twice?")
        == "**A.** Cut thicker. Twice?"
    )
    event = "Power cut? Choose it under *Event*: warm hours go on counting."
    assert handout.for_paper(event) == "Power cut? Warm hours go on counting."
    assert handout.for_paper("$$ t = L^2 $$") == "$$ t = L^2 $$"


def test_no_caution_is_left_out():
    """Cells of cautions, and every sentence that warns, are on paper as they are in the workbook."""
    warns = re.compile(r"[Nn]ot known|never|throw|[Hh]eat|poison|refrigerat|freez|botul|histamine", re.IGNORECASE)
    for workbook in WORKBOOKS:
        for cell in json.loads(workbook.read_text(encoding="utf-8"))["cells"]:
            source = "".join(cell["source"])
            if cell["cell_type"] != "markdown" or handout.NEEDS_CODE.search(source):
                continue
            kept = handout.for_paper(source)
            lost = [one for line in source.split("\n") for one in handout.SENTENCES.split(line) if one not in kept]
            assert not [one for one in lost if warns.search(one) and one not in SEEN], workbook.stem


@each
def test_a_handout_holds_the_panel_as_a_picture_with_words(workbook):
    _, page = handout.handout(workbook)
    pictures = [a for tag, a in Reader(page).tags if tag == "img"]
    assert pictures
    assert all(len(a["alt"]) > 20 for a in pictures)
    assert "VBox(" not in page and "Traceback" not in page
    assert words.caution_line() in page


@each
def test_formulas_are_told_in_mathml(workbook):
    _, page = handout.handout(workbook)
    text = re.sub(r"<pre>.*?</pre>|<[^>]+>", " ", page, flags=re.DOTALL)
    assert "$$" not in text and "\\frac" not in text.replace("\\\\", "")


@each
def test_links_lead_to_other_handouts(workbook):
    names = {path.stem for path in WORKBOOKS} | {"index"}
    for tag, attributes in Reader(handout.handout(workbook)[1]).tags:
        target = attributes.get("href", "#")
        if tag == "a" and not target.startswith(("http", "#")):
            assert Path(target).stem in names, target


def test_markdown_and_formulas():
    page = handout.rendered(
        "Let $L$ be *half*; it costs $5 or $6.\n\n$$ t = \\frac{L^2}{D} $$\n\n| a | b |\n|---|---|\n| 1 | |"
    )
    assert page.count("<math") == 2 and "<mfrac>" in page and "<em>half</em>" in page
    assert "costs $5 or $6" in page
    assert '<div class="scroll"><table>' in page


def test_answers_are_folded_with_what_their_cell_prints():
    cells = [
        {"cell_type": "markdown", "metadata": {"tags": ["solution"]}, "source": "<details><summary>Answer</summary>\n\nSix.\n\n</details>"},
        {"cell_type": "code", "metadata": {"tags": ["solution"]}, "source": "print(6)", "outputs": [{"text": "6 & more\n"}]},
    ]  # fmt: skip
    page = "".join(handout._sections(cells, Path()))
    assert page.index("<details>") < page.index("<pre>6 &amp; more</pre>") < page.index("</details>")


def test_the_folder_holds_a_page_for_every_workbook(tmp_path):
    index, *pages = handout.write_handouts(ROOT, tmp_path / "out")
    assert [page.stem for page in pages] == [workbook.stem for workbook in WORKBOOKS]
    assert all(f'href="{page.name}"' in index.read_text(encoding="utf-8") for page in pages)
    door = (tmp_path / "out" / "reference.html").read_text(encoding="utf-8")
    assert 'href="reference.html"' in index.read_text(encoding="utf-8")
    assert Reader(door).open == [] and "<code>fy.plan(batch)</code>" in door and "&lt;NA&gt;" in door


@pytest.mark.browser
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium on this computer")
@pytest.mark.parametrize(
    ("workbook", "size"),
    [
        pytest.param(path, size, marks=() if (path.stem[:2], size) == ("07", "letter") else pytest.mark.slow)
        for path in WORKBOOKS
        for size in ("a4", "letter")
    ],
)
def test_a_printed_handout_has_three_to_five_pages_and_none_of_them_is_empty(workbook, size, tmp_path):
    from pypdf import PdfReader

    _, page = handout.handout(workbook, size)
    pages = PdfReader(handout.print_page(page, tmp_path / "page.pdf", shutil.which("chromium"))).pages
    assert 3 <= len(pages) <= 5
    assert all(len(sheet.extract_text().split()) > 60 for sheet in pages)
    assert {round(float(sheet.mediabox.width)) for sheet in pages} == {612 if size == "letter" else 595}


@pytest.mark.browser
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium on this computer")
def test_a_printed_handout_is_tagged_and_shows_the_answers(tmp_path):
    from pypdf import PdfReader

    _, page = handout.handout(WORKBOOKS[0])
    reader = PdfReader(handout.print_page(page, tmp_path / "page.pdf", shutil.which("chromium")))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root and root["/Lang"] == "en"
    text = " ".join(" ".join(sheet.extract_text() for sheet in reader.pages).split())
    text = unicodedata.normalize("NFKC", text)  # letters that the page joins, such as fi
    folds = re.findall(r"</summary>\s*<p>([A-Za-z ]{8,40})", page)
    assert folds
    assert all(words_of.strip() in text for words_of in folds)
