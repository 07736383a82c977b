"""The one table of everything published that the models can be asked about, and how much of it their bands contain.

Rancidity is compared with the warm factor drawn, water activity with the native solutes that the row says are left.
Every line: what was published (low/middle/high), our 10th, 50th and 90th percentile, whether the published middle lies
between them, whether the row was used to choose a parameter (fitted), and what had to be assumed. Only the rows that
are not fitted say anything about how good the models are. Run this file by itself to write `published_table.txt` anew;
the test holds the stored table to the models.
"""

from functools import cache
from pathlib import Path

import test_drying_data as drying_data
import test_salting_data as salting_data
from scipy.stats import binomtest

STORED = Path(__file__).with_name("published_table.txt")
TOPICS = ("salting", *drying_data.TOPICS)


@cache
def results():
    return (*salting_data.results(), *drying_data.results())


def place(comparison):
    *_, inside, touching = comparison
    return "inside" if inside else "touching" if touching else "outside"


def line(topic, row, comparison):
    published = "/".join(row["published_" + end] for end in ("low", "mid", "high"))
    ours = " ".join(f"{number:8.3g}" for number in comparison[:3])
    end = f" [verdicts read {drying_data.cautious_end(drying_data.Case(row)):.2f}]" if topic == "water_activity" else ""
    use = "fitted" if row["use"] == "fitted" else ""
    return (
        f"{row['id']:5} {row['product'][:36]:36} {row['quantity'][:30]:30} {published:20} {ours} {row['unit']:12} "
        f"{place(comparison):9} {use:7} {row['assumed']}{end}"
    )


def share(name, comparisons):
    """Share of published middles inside the band; rows that publish only a bound are left out."""
    flags = [inside for *_, inside, _ in comparisons if inside is not None]
    span = binomtest(sum(flags), len(flags)).proportion_ci(method="exact")
    share = sum(flags) / len(flags)
    return f"{name:34} {sum(flags):2} of {len(flags):2} = {share:4.0%}  (95 %: {span.low:.0%} to {span.high:.0%})"


def shares():
    for topic in (*TOPICS, "all"):
        rows = [(row, comparison) for about, row, comparison in results() if topic in (about, "all")]
        yield share(f"{topic}, not fitted", [comparison for row, comparison in rows if row["use"] == "test"])
        yield share(f"{topic}, fitted or not", [comparison for _, comparison in rows])


def table():
    heading = (
        f"{'row':5} {'product':36} {'quantity':30} {'published':20} {'10 %':>8} {'50 %':>8} {'90 %':>8} unit         "
        "middle is use     assumed"
    )
    lines = [heading]
    for topic in TOPICS:
        rows = (line(*result) for result in results() if result[0] == topic)
        lines += ["", topic.replace("_", " "), *rows]
    return "\n".join([*lines, "", "Share of published middles inside our 10 to 90 % band", *shares()]) + "\n"


def test_the_stored_table_says_what_the_models_say():
    """Row by row the same verdict: inside, touching or outside, fitted or not."""
    print("\n" + table())
    stored = {words[0]: words for text in STORED.read_text(encoding="utf-8").splitlines() if (words := text.split())}
    for _, row, comparison in results():
        assert {place(comparison), row["use"]} - {"test"} <= set(stored[row["id"]]), row["id"]


def test_no_row_was_dropped():
    """The 41 rows that were usable when the list was first written are all still compared, and 15 found since."""
    assert len(results()) == 56
    assert sum(row["use"] == "fitted" for _, row, _ in results()) == 11


if __name__ == "__main__":
    STORED.write_text(table(), encoding="utf-8")
    print(table())
