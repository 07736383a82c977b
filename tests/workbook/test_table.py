"""Tables and texts of the pages: the same in Markdown, in a terminal and as a frame; published beside computed."""

import pytest

from flakeyard.workbook.table import Table, Text, check_table

CHECKED = {
    "half_time_of_a_slab": "a slab at its half-time",
    "mould_free_21_80": "mould",
    "table_salt_level_cup": "table salt in a level cup",
    "saturation_si_10c": "a full brine",
}


def test_a_table_is_whole_wherever_it_is_read():
    table = Table(("what", "how much"), (("a | b", "1"), ("c", "not known")), ("Beneath.",))
    assert table._repr_markdown_().splitlines()[2] == "| a \\| b | 1 |"
    assert repr(table).splitlines() == ["what  |  how much", "a | b  |  1", "c  |  not known", "Beneath."]
    assert list(table.frame()["how much"]) == ["1", "not known"]


def test_a_text_is_a_list_or_paragraphs():
    assert Text(("a", "b"))._repr_markdown_() == "- a\n- b"
    assert Text(("a", "b"), listed=False)._repr_markdown_() == "a\n\nb"
    assert repr(Text(("a", "b"))) == repr(Text(("a", "b"), listed=False)) == "a\nb"


def test_published_values_stand_beside_what_is_computed_now():
    rows = {row[0]: row for row in check_table(CHECKED).rows}
    assert list(rows) == list(CHECKED.values())
    assert rows["mould"][1:] == ("27.0", "26.9", "-0.1", "0.5", "Cauvain S.P.")  # 27 days at 80 %, 21 °C
    assert rows["a slab at its half-time"][-1].endswith("(from memory)")
    for _, published, computed, difference, allowed, _ in rows.values():
        places = len(allowed.partition(".")[2])
        assert float(computed) - float(published) == pytest.approx(float(difference), abs=1.01 * 10.0**-places)
        assert abs(float(difference)) <= float(allowed)
