"""Every published value of data/check_values, against the function it names."""

import pytest

from flakeyard import check, tables

ROWS = tables.check_values()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.topic}-{row.id}")
def test_published_value(row):
    result = check.compute(row)
    assert result.within, (
        f"published {row.expected}, computed {result.computed}, tolerance {result.tolerance}: {row.why_tolerance}"
    )


def test_rows_are_told_apart_and_reasoned():
    ids = [row.id for row in ROWS]
    assert len(ids) == len(set(ids)), sorted({one for one in ids if ids.count(one) > 1})
    for row in ROWS:
        assert row.why_tolerance and row.source.title and row.locator, row.id
        assert row.obtained in tables.HOWS, row.id
        assert 0 <= row.rtol < 1 and row.atol >= 0 and row.rtol + row.atol > 0, row.id


def test_no_two_rows_ask_the_same():
    asked = [(row.function, str(sorted(row.inputs.items())), row.source_id, row.locator) for row in ROWS]
    assert len(asked) == len(set(asked)), sorted({one for one in asked if asked.count(one) > 1})


def test_a_wrong_value_is_seen():
    row = ROWS[0]
    off = check.Result("x", "t", "f", row.expected, row.expected + 1.0, 0.5, "", "s", "l", "read", "w")
    assert not off.within and off.difference == pytest.approx(1.0)
    text = check.table([off])
    assert "Outside (!): x." in text and "1 values, 0 within" in text


def test_the_table_fits_a_page_and_tells_everything():
    results = check.run()
    lines = check.table(results, width=80).splitlines()
    assert max(map(len, lines)) <= 80
    topics = {row.topic for row in ROWS}
    assert {line.strip().lower().replace(" ", "_") for line in lines} >= topics
    assert sum(line.startswith("From ") for line in lines) >= len({row.source_id for row in ROWS})


def test_functions_known_only_from_memory_are_listed():
    told = check.only_from_memory()
    for function in told:
        assert {row.obtained for row in ROWS if row.function == function} == {"memory"}
    assert set(told) | {row.function for row in ROWS if row.obtained != "memory"} == {row.function for row in ROWS}
