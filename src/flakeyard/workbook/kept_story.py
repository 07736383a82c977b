"""The story of a fish in the learner's own file: answers taken one by one, kept at once, never lost.

The file is what every workbook reads: it holds what was told and nothing else; what was left open on purpose stands in
it as a remark.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from flakeyard import reading
from flakeyard.files import write_whole
from flakeyard.messages import say
from flakeyard.steps.intent.fields import LISTS, NOT_KNOWN, SOAKS, Flag, OneOf
from flakeyard.units import InputError
from flakeyard.workbook import own
from flakeyard.workbook.asking import question_at, questions
from flakeyard.workbook.left_open import tells_nothing
from flakeyard.workbook.meant import Reading
from flakeyard.workbook.question import Question
from flakeyard.workbook.short_words import NO, NO_MORE, YES
from flakeyard.workbook.so_far import Story
from flakeyard.workbook.story_file import story_of, text_of
from flakeyard.workbook.telling import tell

FREEZING = "fish.frozen_days"
TO_BE_DONE = "still to be done"  # the word kept in the file
WEIGHT = "fish.raw_weight"
A_PART = "a part of the fish"  # likewise
NOTED = {FREEZING: TO_BE_DONE, WEIGHT: A_PART}  # what a change makes of a place
PLACE, CUPBOARD = "keep.place", "cupboard"
WANTED_CUPBOARD = "a cupboard was asked for"  # likewise
DIAL = "dryer.dial"  # where it is noted what a machine can be set to at most, as an amount


def answer_in_field(story: Story, question: Question) -> str:
    """What stands in the field of a question: the words told, or that it was left open on purpose."""
    told = story.get(question.place)
    if question.door and told is not None:
        return told.get("method", "wet") if question.place in SOAKS else YES
    if told is None:
        left = story.left.get(question.place, "")
        return left if question.door or left == NO_MORE or (left == NOT_KNOWN and not listed(question)) else ""
    if isinstance(told, bool):
        return YES if told else NO
    return question.kind.read(told, question.where) if isinstance(question.kind, OneOf) else str(told)


def answered(story: Story, question: Question, text: str) -> Story:
    """The story with an answer; an ingredient whose name is taken away goes with its amount. Raises: InputError."""
    row, _, key = question.place.rpartition(".")
    if key == "what" and tells_nothing(question, text) and story.get(row) is not None:
        without = story.left_open(row, "")
        list_name = row.rpartition(".")[0]
        left = {place: word for place, word in without.left.items() if not place.startswith(list_name)}
        return replace(without, left=left)
    told = tell(story, question, text)
    return replace(told, left={place: word for place, word in told.left.items() if told.get(place) is None})


def changed(story: Story, told: Iterable[tuple[str, object]]) -> Story:
    """The story with values told at places; None leaves a place open. A freezing is noted as one that is still to be done, a weight as that of a part, and that a
    cupboard was asked for before."""
    wanted_cupboard = story.get(PLACE) == CUPBOARD or before_it_a_cupboard(story)
    for place, value in told:
        story = story.left_open(place, NOT_KNOWN) if value is None else story.told(place, value)
        story = story.noted(place, NOTED[place]) if place in NOTED and value is not None else story
        story = story.noted(PLACE, WANTED_CUPBOARD) if place == PLACE and wanted_cupboard else story
        story = _ended(story, place)
    return replace(story, left={place: word for place, word in story.left.items() if story.get(place) is None})


def _ended(story: Story, place: str) -> Story:
    """The story with no more rows than are told in the list that a place is in."""
    section, row = f"{place}.".split(".")[:2]
    after = f"{section}.{int(row) + 1}" if section in LISTS and row.isdigit() else place
    return story if after == place or story.answered(after) else replace(story, left=story.left | {after: NO})


def still_needed(story: Story) -> list[Question]:
    """Questions without whose answers there is no plan."""
    fish = story.typed.get("fish", {})
    by_label = all(key in fish for key in ("water", "protein", "fat"))
    return [
        one
        for one in questions(story)
        if story.get(one.place) is None and (one.needed or (one.place == "fish.species" and not by_label))
    ]


def counted_as_no(story: Story) -> list[Question]:
    """Sections that nobody has told anything of; what few measure is no loss."""
    doors = (one for one in questions(story) if one.door and one.message == f"gate.{one.section}")
    return [one for one in doors if not story.answered(one.place) and one.section != "measured"]


def listed(question: Question) -> bool:
    """Whether the answer is chosen from a list."""
    return isinstance(question.kind, OneOf | Flag)


def to_freeze(story: Story) -> bool:
    """Whether the fish is still to be frozen: a change told so, and nobody has told of the freezing since."""
    return story.get(FREEZING) is not None and story.notes.get(FREEZING) == TO_BE_DONE


def a_part(story: Story) -> bool:
    """Whether only a part of the fish is planned: a change told so, and nobody has told of the weight since."""
    return story.get(WEIGHT) is not None and story.notes.get(WEIGHT) == A_PART


def before_it_a_cupboard(story: Story) -> bool:
    """Whether a cupboard was asked for before a change told another place, and nobody has told of the place since."""
    return story.get(PLACE) not in (None, CUPBOARD) and story.notes.get(PLACE) == WANTED_CUPBOARD


def dial_end(story: Story) -> float | None:
    """What the dryer can be set to at most [°C], where that was said and it is not set hotter."""
    question = question_at("dryer.temperature")
    try:
        most = question.kind.read(story.notes.get(DIAL, ""), question.where)
        now = question.kind.read(story.get(question.place) or "", question.where)
    except InputError:
        return None
    return None if now > most + 0.5 else most


@dataclass(frozen=True)
class Beside:
    """What a story tells besides its batch: a freezing is still to be done, only a part is planned, a cupboard was asked for
    before, and where its dial ends [°C]."""

    freezing_to_do: bool = False
    part: bool = False
    cupboard_before: bool = False
    dial_end: float | None = None


NOTHING_BESIDE = Beside()


def beside(story: Story) -> Beside:
    """What a story tells besides its batch."""
    return Beside(to_freeze(story), a_part(story), before_it_a_cupboard(story), dial_end(story))


class KeptStory:
    """The story and its file: looked at again before each answer, written whole after it.

    A file that this form has not written, or of which something told is lost, stays as a numbered copy.
    """

    def __init__(self, folder: str | Path):
        self.path, self.story, self.trouble = Path(folder) / own.FILE, Story(), ""
        self._text, self._mine = "", False
        try:
            self._look()
        except (InputError, OSError) as mistake:
            self.trouble = say("story.unreadable", file=own.FILE, why=mistake)

    def refresh(self) -> None:
        """Look at the file again; one that cannot be used stays as a copy when the next answer is written."""
        try:
            self._look()
        except (InputError, OSError):
            self._mine = False

    def take(self, question: Question, text: str) -> None:
        """Take an answer and write the story down. Raises: InputError, OSError; story and file then stay as they were."""
        self.keep(answered(self.story, question, text))

    def put(self, reading: Reading) -> None:
        """Take a reading of an answer and write the story down. Raises: InputError, OSError."""
        story = reading.put_in(self.story)
        self.keep(replace(story, left={place: word for place, word in story.left.items() if story.get(place) is None}))

    def note(self, question: Question, text: str) -> None:
        """Keep words that nothing reads beside the place of a question. Raises: OSError."""
        self.keep(self.story.noted(question.place, text))

    def keep(self, story: Story) -> None:
        """Write a story down. Raises: OSError; story and file then stay as they were."""
        own.whole(story.typed)
        told = text_of(story, own.FILE)
        write_whole(self.path, told, keep_copy=not (self._mine and _holds(story.typed, self.story.typed)))
        self.story, self._text, self._mine = story, told, True

    def _look(self) -> None:
        """Read the file if somebody else has written it. Raises: InputError; the story then stays as it was."""
        text = reading.read_text(self.path, say("own.batch_file")) if self.path.exists() else ""
        if text not in ("", self._text):
            there = story_of(text, own.FILE)
            left = self.story.left | there.left
            self.story = replace(there, left={place: word for place, word in left.items() if there.get(place) is None})
            self._text, self._mine = text, False


def _holds(now, before) -> bool:
    """Whether all that was told before is still told in the same words."""
    if isinstance(before, dict):
        return isinstance(now, dict) and all(key in now and _holds(now[key], one) for key, one in before.items())
    if isinstance(before, list):
        return isinstance(now, list) and len(now) >= len(before) and all(map(_holds, now, before))
    return now == before
