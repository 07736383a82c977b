"""The logbook by itself: rows reach the file before anything else, never over what the page has not seen; who may ask."""

import http.client
import json
import threading

import pytest

from flakeyard.steps.learn import learning
from flakeyard.steps.learn.logbook import read_log
from flakeyard.workbook import own
from flakeyard.workbook.pages import kitchen_page, logbook_page
from flakeyard.workbook.pages.logbook_page import Kept

HERON = own.demo_batch("heron")
HEAD = "time,tray,mass_g,event,dial_c,note\n"
LAID = HEAD + "2026-12-05 18:00+00:00,thickest,31,,,\n2026-12-05 18:00+00:00,1,352,,,\n"
LATER = LAID + "2026-12-05 20:00+00:00,thickest,22,,,\n"


@pytest.fixture(autouse=True)
def few_members(monkeypatch):
    learn, export = learning.learn, kitchen_page.exported
    monkeypatch.setattr(learning, "learn", lambda batch, log, profile=None: learn(batch, log, 24, profile, sketch=True))
    monkeypatch.setattr(kitchen_page, "exported", lambda batch: export(batch, 24))


@pytest.fixture
def kept(tmp_path):
    return Kept(HERON, tmp_path / "heron-weighings.csv")


def test_what_the_page_sends_is_in_the_file_and_taught(kept):
    assert kept.take(HEAD) == {"metric": "", "us": ""} and not kept.path.exists()
    told = kept.take(LATER)
    assert kept.path.read_text() == LATER and "STOP:" in told["metric"]
    assert " g" in told["metric"] and " oz" in told["us"] and kept.text == LATER
    kept.take(LAID)
    assert kept.path.read_text() == LAID and list(kept.path.parent.glob("*-1.csv")) == []


def test_rows_that_the_page_has_not_seen_are_not_written_over(kept):
    kept.take(LAID)
    other = LATER.replace("22", "23")
    kept.path.write_text(other)
    assert "changed elsewhere" in kept.take(LATER)["trouble"] and kept.path.read_text() == other


def test_a_file_of_somebody_else_stays_as_a_copy(kept):
    kept.path.write_text(LAID)
    again = Kept(HERON, kept.path)
    assert again.text == LAID
    again.take(LATER)
    assert kept.path.read_text() == LATER and kept.path.with_name("heron-weighings-1.csv").read_text() == LAID


def test_a_log_that_cannot_be_read_is_kept_and_told(kept):
    told = kept.take(LAID + "2026-12-05 20:00+00:00,1,400,,,\n")
    assert "gained more than 2 %" in told["trouble"] and ",400," in kept.path.read_text()
    with pytest.raises(ValueError, match="gained"):
        read_log(kept.path)


@pytest.fixture
def served(tmp_path):
    """A logbook that is served: its page's address, its token, its file."""
    batch, told, servers, begun = tmp_path / "heron.toml", [], [], threading.Event()
    batch.write_text(HERON_TEXT, encoding="utf-8")
    log = tmp_path / "heron-weighings.csv"

    def ready(server):
        servers.append(server)
        begun.set()

    thread = threading.Thread(
        target=logbook_page.serve, args=(batch, log, "metric", False, told.append, ready), daemon=True
    )
    thread.start()
    assert begun.wait(60)
    yield told[0].split("//")[1].split(" ")[0], log
    servers[0].shutdown()
    thread.join(10)


HERON_TEXT = (own.course_folder_without_copying() / "data_demo" / "heron.toml").read_text(encoding="utf-8")


def asked(place, method, path, body=None, **headers):
    connection = http.client.HTTPConnection(place, timeout=60)
    connection.request(method, path, body, headers)
    answer = connection.getresponse()
    told = answer.status, answer.read().decode()
    connection.close()
    return told


def test_the_server_answers_its_own_page_and_nobody_else(served):
    address, log = served
    place, path = address.split("/", 1)
    path, token = f"/{path}", path.strip("/")
    status, page = asked(place, "GET", path)
    assert status == 200 and "learner(" in page and f"connect-src http://{place}{path}log" in page
    told = asked(place, "POST", f"{path}log", LATER, **{"X-Token": token})
    assert told[0] == 200 and "STOP:" in json.loads(told[1])["metric"] and log.read_text() == LATER
    strangers = (
        ("GET", "/", None, {}),
        ("GET", path, None, {"Host": "elsewhere.example"}),
        ("POST", f"{path}log", LAID, {}),
        ("POST", f"{path}log", LAID, {"X-Token": token, "Origin": "http://elsewhere.example"}),
        ("POST", "/log", LAID, {"X-Token": token}),
        ("POST", f"{path}log", "x" * 1_100_000, {"X-Token": token}),
    )
    for method, where, body, headers in strangers:
        try:
            assert asked(place, method, where, body, **headers)[0] == 404
        except ConnectionError:  # it hung up before all was sent
            assert len(body) > 1_000_000
    assert log.read_text() == LATER


def test_a_cell_keeps_its_log_and_answers(kept):
    cell = logbook_page.logbook_cell(kept)
    sent = []
    cell.send = lambda told, *_more: sent.append(told)
    cell._handle_custom_msg({"log": LATER}, [])
    assert kept.path.read_text() == LATER and "STOP:" in sent[0]["metric"]
    assert "learner(" in cell.page and "Heron" in cell._repr_mimebundle_()[0]["text/plain"]


def test_the_logbook_of_ones_own_names_its_file_and_says_whose_plan_it_is(tmp_path, kept):
    untold = logbook_page.own_logbook_page(tmp_path).page  # is refused, and says why
    assert "There is no my-batch.toml yet. Still Heron&#x27;s: fish, cut, dryer." in untold
    assert "This kind of fish can form histamine" not in untold  # a verdict on nobody's fish
    kept.note = "somebody's"
    page = logbook_page.logbook_cell(kept).page
    told = json.loads(page.partition('id="data">')[2].partition("</script>")[0])
    assert told["log_name"] == kept.path.name and told["note"] == kept.note
