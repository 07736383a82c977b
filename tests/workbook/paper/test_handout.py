"""Handouts as pages: everything inside, nothing asked from outside, nothing of Python left in them."""

import re
import shutil
import unicodedata
from html.parser import HTMLParser
from pathlib import Path

import pytest

from flakeyard.workbook import words
from flakeyard.workbook.paper import handout

ROOT = Path(__file__).resolve().parents[3]
WORKBOOKS = sorted((ROOT / "workbooks").glob("*.ipynb"))
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
    assert "Shift +" not in handout.handout(workbook)[1]  # no advice for paper


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
