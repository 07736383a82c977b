"""The story of a fish as far as it is told: what was typed, what was left open on purpose, and words that nothing reads."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from flakeyard.steps.intent.places import placed, taken_out
from flakeyard.units import one_line

LONGEST_NOTE = 200  # letters of an answer that are kept as a note (judgement)


@dataclass(frozen=True)
class Story:
    """What was told so far: the batch as typed in a file, and what was left open on purpose, place by place, with the
    word for it ("not known", "no", "no more"); ``notes`` are words that were said and that nothing reads. A place is
    "fish.species", "brine.ingredient.2.what" or "heat"."""

    typed: dict = field(default_factory=dict)
    left: dict[str, str] = field(default_factory=dict)
    notes: dict[str, str] = field(default_factory=dict)

    def get(self, place: str):
        """What was typed at a place; None where nothing was."""
        found = self.typed
        for step in place.split("."):
            if step.isdigit():
                found = found[int(step) - 1] if isinstance(found, list) and len(found) >= int(step) else None
            else:
                found = found.get(step) if isinstance(found, dict) else None
        return found

    def told(self, place: str, value) -> Story:
        """The story with a value at a place."""
        left = {name: word for name, word in self.left.items() if name != place}
        notes = {name: words for name, words in self.notes.items() if name != place}
        return Story(placed(self.typed, place, value), left, notes)

    def left_open(self, place: str, word: str) -> Story:
        """The story with a place left open on purpose; what was told there, or under it, is forgotten."""
        left = {name: one for name, one in self.left.items() if not f"{name}.".startswith(f"{place}.")}
        return replace(self, typed=taken_out(self.typed, place), left=left | {place: word})

    def noted(self, place: str, words: str) -> Story:
        """The story with words that nothing reads, kept beside a place."""
        return replace(self, notes=self.notes | {place: one_line(words, LONGEST_NOTE)})

    def forgotten(self, place: str) -> Story:
        """The story with a place neither told nor left open."""
        left = {name: one for name, one in self.left.items() if not f"{name}.".startswith(f"{place}.")}
        return replace(self, typed=taken_out(self.typed, place), left=left)

    def answered(self, place: str) -> bool:
        return place in self.left or self.get(place) is not None
