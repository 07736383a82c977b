"""A plain sentence at the summary of all that counts, read as if it were told at the question it belongs to: "only 6 hours in
the brine, and some are 3/8 inch".
"""

from __future__ import annotations

import re
from dataclasses import replace

from flakeyard.workbook.asking import questions
from flakeyard.workbook.loosely import ABOVE_WARM, heard
from flakeyard.workbook.meant import Reading, plain
from flakeyard.workbook.plainly import GUARDED, TURNED, doubted
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.summing_up import label
from flakeyard.workbook.together import thicker_ones
from flakeyard.workbook.unasked import PLACE as VERY_WARM

ABOUT = {  # by place, what says that a part of a sentence is about it
    "fish.raw_weight": r"weigh\w*", "brine.time": r"brin\w*|salt\w*|cur(?:e|ing)|marinad\w*|bath",
    "rest.time": r"rest\w*|racks?", "dryer.temperature": r"dryer|dehydrator|dial|oven|set", "dryer.trays": r"trays|racks",
    "room.temperature": r"room|kitchen|garage", "keep.wanted_days": r"keep\w*",
}  # fmt: skip
ONLY = re.compile(r"\b(?:only|just|some(?: of)?|a? ?few)\b")  # what is no doubt of an amount here
LINE = re.compile(
    r"^(?:line )?[1-9][:.,)]* +(?=[a-z])(?!h\b|hours?\b)"
)  # the number of a line before what is wrong in it
IT_WAS = re.compile(
    r"^(?:no,? *)?(?:(?:it|they|the fish) (?:was|were|has|have|had|got)?(?: been)? *)?(?=none|nothing|never|no\b|0|zero)"
)
PARTS = re.compile(r"[,;.](?![0-9])|\band\b")


def told_at_the_end(story: Story, typed: str) -> Reading | None:
    """What a sentence plainly mends of what was told, as one reading; None where it mends nothing, or not plainly."""
    said = LINE.sub("", " ".join(typed.replace("’", "'").casefold().split()))
    if none_above := _never_very_warm(story, said):
        return none_above
    now, told, shown = story, [], []
    for part in (one.strip() for one in PARTS.split(said)):
        if found := _of_part(now, part):
            now = found.put_in(now)
            told += found.told
            shown.append(found.shown)
    return Reading(tuple(told), "; ".join(shown), sure=True) if told else None


def _never_very_warm(story: Story, said: str) -> Reading | None:
    """That none of the hours was above `limits.WARM`, where nothing but that is said."""
    one = next((one for one in questions(story) if one.place == VERY_WARM), None)
    found = ABOVE_WARM.search(IT_WAS.sub("", said))
    if one is None or not found or found["many"] == "all" or ABOVE_WARM.sub("", IT_WAS.sub("", said)).strip(" .!"):
        return None
    return replace(plain(one, "0"), shown=label(one, "0"), sure=True)


def _of_part(story: Story, part: str) -> Reading | None:
    if doubted(ONLY.sub("", part)) or TURNED.search(part):
        return None
    if thicker := thicker_ones(story, part):
        return thicker
    about = [one for one in questions(story) if one.place in ABOUT and story.get(one.place) is not None]
    here = [one for one in about if re.search(rf"\b(?:{ABOUT[one.place]})\b", part) and one.key not in GUARDED]
    found = [told for one in here if (told := _amount(story, one, part))]
    return found[0] if len(found) == 1 else None


def _amount(story: Story, one: Question, part: str) -> Reading | None:
    """The one amount that answers a question plainly."""
    answer = heard(story, one, part)
    text = answer.sure.told[0][1] if answer.sure and len(answer.sure.told) == 1 else ""
    text = text or (part if answer.story and answer.story.get(one.place) is not None else "")
    return replace(plain(one, text), shown=label(one, text)) if re.search("[0-9]", text) else None
