"""The book of a batch on the page: tables, card, and files that lose nothing."""

import tomllib

import numpy as np
import pytest

from flakeyard.steps.intent.batch_file import save_batch, with_typed, without
from flakeyard.steps.learn import dryer_profile
from flakeyard.steps.learn.book import Trial, only
from flakeyard.steps.learn.logbook import Log, read_log
from flakeyard.steps.plan import plan as batches
from flakeyard.units import InputError
from flakeyard.workbook import own, words
from flakeyard.workbook.panels import batch_book as bb
from flakeyard.workbook.panels.panel import Choice

LAID = {"1": 322, "2": 321, "3": 316, "4": 306, "5": 305}  # g, of the demo batch
AFTER_TWO_HOURS = {"1": 220, "2": 219, "3": 215, "4": 209, "5": 207}
METRIC = Choice("metric")


@pytest.fixture(scope="module")
def heron():
    return bb.demo_book("heron")


@pytest.fixture(scope="module")
def own_one(tmp_path_factory):
    """A book in a folder of its own, with two weighings kept."""
    folder = tmp_path_factory.mktemp("kitchen")
    save_batch(own.demo_batch("heron"), folder / own.FILE)
    book = bb.own_book(folder)
    for clock, masses in (("2026-11-20 17:00", LAID), ("2026-11-20 19:00", AFTER_TWO_HOURS)):
        for tray, grams in masses.items():
            book.keep(0, time=clock, tray=tray, mass_g=grams)
    return folder, book


def test_before_the_stopping_weight_nothing_has_happened_yet(heron):
    young = Trial(heron.batch, heron.upto(1))
    assert young.at(1).happened is None
    assert "not known" in bb.history_table(young, METRIC).rows[0]


def test_tables_rank_changes_and_narrow_the_next_plan(heron):
    changes = bb.change_table(heron, METRIC).rows
    saved = [int(row[2].split()[0]) for row in changes]
    assert saved == sorted(saved, reverse=True) and "thinner" in changes[0][0]
    plans = bb.next_plan_table(heron, METRIC).rows
    assert float(plans[1][2].split()[1]) < float(plans[0][2].split()[1])
    assert [row[1] for row in bb.weighed_table(heron).rows[:3]] == ["1570 g", "1070 g", "824 g"]


def test_another_pack_is_another_weight_and_the_log_stays_as_it_was(heron):
    paper = bb.demo_book("heron", pack="paper bag")
    assert (paper.batch.keep.pack, heron.batch.keep.pack) == ("paper bag", "glass jar")
    assert paper.log.entries == heron.log.entries
    stops = [book.learned(0).outcome.load.mass_ratio for book in (heron, paper)]
    assert stops[1] > stops[0] + 0.05


def test_the_history_says_how_eating_looked_and_the_log_by_when(heron):
    thicker = with_typed(heron.batch, "cut", thickness="6 mm", thinnest="5 mm", thickest="7 mm")
    told = {}
    for book in (heron, Trial(thicker, heron.upto(1))):
        for used, row in enumerate(bb.history_table(book, METRIC).rows):
            verdict = book.learned(used).outcome.verdict
            told[book, used] = bb.by_when(book, used).lines
            assert row[-1] == words.eat_words(verdict.eat)
            assert (told[book, used] == (bb.NO_DEADLINE,)) == (not verdict.by or verdict.by[0].hours is None)
            assert told[book, used] == (bb.NO_DEADLINE,) or "of the heating" in told[book, used][0]
    assert told[heron, 0] == (bb.NO_DEADLINE,) != told[book, 0]  # a millimetre thicker, and there is a deadline


def test_ways_to_keep_stand_in_a_table_and_what_must_be_cooked_is_said():
    outcome = batches.plan(own.demo_batch("heron"))
    table = bb.ways_table(outcome)
    assert {row[0] for row in table.rows} == {"cupboard", "refrigerator", "freezer"}
    raw = batches.plan(without(own.demo_batch("heron"), "heat"))
    for one in (table, bb.ways_table(raw)):
        assert len({line.count("|") for line in one._repr_markdown_().splitlines()}) == 1
        assert any("*" in row[-1] for row in one.rows) == ("*" in one.head[-1])


def test_what_was_taught_is_a_list_of_sentences(heron):
    taught = bb.taught(heron)
    assert len(taught.lines) == taught._repr_markdown_().count("- ") == len(repr(taught).splitlines()) >= 3


def test_a_log_that_contradicts_its_plan_teaches_nothing(tmp_path):
    strange = Trial(own.demo_batch("otter"), only(bb.demo_book("kingfisher").log, 6.0))
    assert strange.learned(1).contradiction
    assert np.isnan(strange.at(1).stop) and strange.at(1).happened is None
    assert "not known" in bb.change_table(strange, METRIC).rows[0][0]
    assert bb.keep_dryer(strange, tmp_path).startswith("Nothing was kept") and not list(tmp_path.iterdir())


def test_own_weighings_stand_in_the_file(own_one):
    folder, book = own_one
    log = read_log(folder / bb.LOG)
    assert len(log.entries) == 10 and log.moments == (2.0,)
    assert "event" in (folder / bb.LOG).read_text(encoding="utf-8").splitlines()[0]
    assert bb.own_book(folder).log.entries == book.log.entries


def test_whose_plan_it_is_is_told(tmp_path):
    book = bb.own_book(tmp_path)
    assert "Still Heron's: fish, cut, dryer." in book.trouble and book.batch.title == "My own batch"
    assert book.batch.heat is None and book.batch.brine is None and book.batch.fish.gutted is None
    assert book.learned(0).outcome.verdict.keep in ("not_known", "nowhere")  # nothing is known of this fish
    save_batch(own.demo_batch("otter"), tmp_path / own.FILE)
    mine = bb.own_book(tmp_path)
    assert mine.trouble == "" and mine.batch.title.startswith("Otter")
    (tmp_path / own.FILE).write_text("[fish\n", encoding="utf-8")
    assert "cannot be used yet" in bb.own_book(tmp_path).trouble


def test_a_log_that_cannot_be_read_is_told_and_stays_as_it_is(tmp_path):
    (tmp_path / bb.LOG).write_text("time,tray,mass\n17:00,1,322\n", encoding="utf-8")
    book = bb.own_book(tmp_path)
    assert "unit is missing" in book.trouble and book.log == Log(())
    with pytest.raises(InputError):
        book.keep(0, time="19:00", tray="1", mass_g=220)
    assert (tmp_path / bb.LOG).read_text(encoding="utf-8") == "time,tray,mass\n17:00,1,322\n"


def test_the_dryer_is_kept_with_a_copy_of_the_older_and_never_counts_a_batch_twice(own_one):
    folder, book = own_one
    assert "Saved in my-dryer.toml" in bb.keep_dryer(book, folder)
    first = (folder / bb.DRYER).read_bytes()
    assert "my-dryer-1.toml" in bb.keep_dryer(book, folder)
    assert (folder / "my-dryer-1.toml").read_bytes() == first
    kept = tomllib.loads((folder / bb.DRYER).read_text(encoding="utf-8"))
    assert len(kept["batches"]) == 1
    assert bb.own_book(folder).profile is None  # both were learned from this very batch


def test_the_profile_of_an_older_batch_is_used_for_the_next(own_one, tmp_path):
    _, book = own_one
    assert "Saved" in bb.keep_dryer(book, tmp_path)
    assert bb.own_book(tmp_path).profile.batches == dryer_profile.read_profile(tmp_path / bb.DRYER).batches
    (tmp_path / bb.DRYER).write_text("title = 3\n", encoding="utf-8")
    spoilt = bb.own_book(tmp_path)
    assert spoilt.profile is None and "my-dryer.toml is left out" in spoilt.trouble


def test_the_card_is_shown_with_words_and_saved_as_pdf(tmp_path):
    batch = own.demo_batch("heron")
    picture = bb.card_picture(batches.plan(batch), "2026-12-05 18:00", METRIC)
    assert picture.png.startswith(b"\x89PNG") and len(picture.png) < 300_000
    assert "Refrigerator or freezer" in picture.alt and "First weighing" in picture.alt
    assert f'alt="{picture.alt[:30]}' in picture._repr_html_()
    assert "my-batch-card.pdf" in bb.save_card(batch, tmp_path, start="2026-12-05 18:00")
    first = (tmp_path / bb.CARD).read_bytes()
    assert first.startswith(b"%PDF")
    bb.save_card(batch, tmp_path, "us")
    assert (tmp_path / "my-batch-card-1.pdf").read_bytes() == first
    assert bb.save_card(batch, tmp_path, start="next week").startswith("Not saved")


def test_there_is_no_card_while_some_of_the_numbers_are_somebody_elses(tmp_path):
    own.keep_numbers({("fish", "species"): "rainbow trout, farmed", ("fish", "raw_weight"): "900 g"}, tmp_path)
    said = repr(bb.card_picture(batches.plan(own.own_batch(tmp_path), members=12), "2026-12-05 18:00", METRIC))
    assert said.startswith("No card yet") and "dryer" in said
