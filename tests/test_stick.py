"""What lies on a stick for people without Python, and the page that lists it."""

import re

import pytest

from flakeyard import cli, kit, stick
from flakeyard.workbook import words


@pytest.fixture
def filled(tmp_path, monkeypatch):
    """A stick whose parts are empty files: what is in them is tested where they are made."""

    def papers(_course, out, _without=()):
        for name in (
            "explorers/explorer-x.html",
            "handouts/index.html",
            "handouts/01-a.html",
            "papers/worksheets.pdf",
            "papers/card-heron.pdf",
        ):
            (out / name).parent.mkdir(exist_ok=True)
            (out / name).write_text(f"<title>Page of {name[:4]} &amp; more</title>")

    def kitchen(batches, folder):
        folder.mkdir()
        for name in batches:
            (folder / f"{name}.html").write_text(f"<title>Kitchen of {name}</title>")

    monkeypatch.setattr(kit, "write_papers", papers)
    monkeypatch.setattr(stick, "write_kitchen_pages", kitchen)
    own = tmp_path / "mine.toml"
    own.write_bytes((cli.course_folder() / "data_demo" / "heron.toml").read_bytes())
    assert cli.main(["stick", str(tmp_path / "out"), "--batch", str(own)]) == 0
    return tmp_path / "out"


def test_contents_list_everything_by_its_title_and_every_link_leads_somewhere(filled):
    page = (filled / "index.html").read_text(encoding="utf-8")
    links = re.findall(r'href="([^"]+)"', page)
    assert len(links) == 3 + 1 + 1 + 1 + 1 + 1 and all((filled / link).is_file() for link in links)
    assert "Kitchen of mine" in page and "Page of hand &amp; more" in page and "worksheets" in page
    assert words.caution_line() in page and not re.search("https?:", page)


def test_parts_that_are_not_there_have_no_heading(tmp_path):
    page = stick.write_contents(tmp_path).read_text(encoding="utf-8")
    assert "<h2>" not in page and "href" not in page


def test_a_batch_file_that_cannot_be_read_is_refused_before_anything_is_written(tmp_path, capsys):
    (tmp_path / "bad.toml").write_text("[fish")
    assert cli.main(["stick", str(tmp_path / "out"), "--batch", str(tmp_path / "bad.toml")]) == 2
    assert not (tmp_path / "out").exists()
