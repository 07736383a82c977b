"""What the page says beneath the story of a fish: what is still needed, or what the plan makes of it.

The plan is worked out when no answer has come for a moment, with the whole ensemble, so that it says what it says
everywhere else. What is out of date is never said.
"""

from __future__ import annotations

import asyncio
import html
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress

import ipywidgets as widgets

from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.plan import Outcome, plan
from flakeyard.workbook import begin_ending, words
from flakeyard.workbook.begin_ending import Choice, Line, Looking
from flakeyard.workbook.in_order import Steps, Under
from flakeyard.workbook.kept_story import beside, counted_as_no, still_needed
from flakeyard.workbook.panels.story_row import button, mark
from flakeyard.workbook.paper import ways_text
from flakeyard.workbook.question import Question
from flakeyard.workbook.so_far import Story

REST = 0.6  # s without an answer, after which the plan is worked out (judgement)
BREATH = 0.02  # s between two lines, in which an answer may come
Told = tuple[tuple[str, object], ...]  # what is told at places; None takes out


class StoryResult(widgets.VBox):
    """Headline, a button that takes the last change back, short sentences as they are found, changes that can be made with
    a button, the rules in full, and the ways.

    A page may send two messages at once on two threads: whatever is shown waits for its turn, and so does a plan.
    """

    def __init__(
        self,
        go: Callable[[str], None],
        change: Callable[[Told], None],
        take_back: Callable[[], None],
        system: Callable[[], str],
    ):
        """
        Parameters: go – opens the question of a place; change – puts a change into the story; take_back – takes the last
        one out again; system – the units of the page
        """
        self._go, self._change, self._system = go, change, system
        self.back = button(say("story.take_back"), take_back)
        self._jumps = widgets.VBox().add_class("fy-jumps")
        self.headline = widgets.HTML(layout=widgets.Layout(min_height="2em")).add_class("fy-live")
        self.lines, self.help = widgets.VBox(), widgets.HTML().add_class("fy-live")
        self.details, self.ways = widgets.HTML(), widgets.HTML()
        self._turn, self._planning = threading.RLock(), threading.Lock()
        self._state, self._next = None, None
        self._told: tuple[str, ...] = ()  # what is not said once more beneath the headline
        parts = [
            self.back.add_class("fy-hidden").add_class("fy-take-back"),
            self._jumps,
            self.lines,
            self.help,
            self.details,
            self.ways,
        ]
        super().__init__([self.headline.add_class("fy-result"), *parts])

    def follow(self, story: Story, refused: list[Question], here: set[str]) -> None:
        """Say what follows from a story.

        Parameters: refused – questions with an answer that was not taken; here – the sections that are asked on this page
        """
        state = (story, tuple(one.place for one in refused), self._system())
        with self._turn:
            if state == self._state:
                return
            self._state = state
            if self._next:
                self._next.cancel()
            needed = still_needed(story)
            if refused or needed:
                head = say("story.not_taken" if refused else "story.needed")
                open_ones = refused or needed
                there = [one for one in open_ones if one.section in here]
                elsewhere = "" if len(there) == len(open_ones) else f"<p>{html.escape(say('story.elsewhere'))}</p>"
                self._say(head if there else say("story.goes_on"), elsewhere if there else "", jumps=there)
            else:
                self._working(True)
                self._soon(self._work_out, state)

    def _soon(self, work: Callable[..., None], *given, rest: float = REST) -> None:
        """Do it when nothing was answered for a moment; outside a kernel, at once."""
        try:
            self._next = asyncio.get_running_loop().call_later(rest, work, *given)
        except RuntimeError:
            work(*given)

    def _work_out(self, state: tuple) -> None:
        """Plan the batch and say what comes of it; trouble becomes words."""
        found = self._in_time(state, lambda: self._planned(state[0]))
        with self._turn:
            if found is None or state is not self._state:
                return
            outcome, head, details, table = found
            self._say(head, details, table)
            if outcome and (outcome.verdict.keep, outcome.verdict.eat) == ("nowhere", "no"):
                self._told += (say("begin.planned"),)  # the headline says it
            if outcome:
                told = begin_ending.ending(outcome, state[2], beside(state[0]))
                self._soon(self._tell_on, state, told, rest=BREATH)

    def _planned(self, story: Story) -> tuple[Outcome | None, str, str, str]:
        try:
            outcome = plan(read_batch(story.typed))
            details, table = outcome_words(outcome, story), ways_table(outcome)
        except Exception as trouble:  # a learner is shown words, never a traceback
            return None, say("story.cannot"), html.escape(str(trouble)), ""
        return outcome, f"{words.headline(outcome.verdict, outcome.keep)}.", details, table

    def _tell_on(self, state: tuple, lines: Iterator[Line]) -> None:
        """Say the next line of what follows, which may take a while to be found; the verdict stands without it."""
        line = None
        with suppress(Exception):
            line = self._in_time(state, lambda: next(lines, None))
        with self._turn:
            if state is not self._state:
                return
            self.help.value = f"<p>{html.escape(line)}</p>" if isinstance(line, Looking) else ""
            if line and line != begin_ending.GAP and line not in self._told and not self.help.value:
                self.lines.children += (self._part(line, state[2]),)
            if line is not None:
                self._soon(self._tell_on, state, lines, rest=BREATH)

    def _part(self, line: Line, system: str) -> widgets.Widget:
        """A line for the page: with a button where it is a change, or where it asks for an answer."""
        text = line if isinstance(line, str) else line.words
        if isinstance(line, Steps):
            return widgets.HTML(_list(line, system)).add_class("fy-line")
        if isinstance(line, Choice):
            number = 1 + sum("fy-choice" in one._dom_classes for one in self.lines.children)
            text = say("story.one_change", number=number, words=text)
        said = widgets.HTML(f"<p>{html.escape(words.in_system(text, system))}</p>")
        if isinstance(line, str):
            return said.add_class("fy-under" if isinstance(line, Under) else "fy-line")
        if isinstance(line, Choice):
            press = button(say("story.change"), lambda: self._change(line.told))
            return widgets.VBox([said, press]).add_class("fy-choice")
        press = button(say("story.answer_it"), lambda: self._go(line.question.place))
        return widgets.VBox([said, press]).add_class("fy-jumps")

    def _in_time(self, state: tuple, work: Callable):
        """What comes of some work, one at a time; None where it is out of date before its turn comes."""
        with self._planning:
            return work() if state is self._state else None

    def _say(self, headline: str, details: str, table: str = "", jumps: Sequence[Question] = ()) -> None:
        self._told = (headline,)
        mark(self.back, "fy-hidden", self.back.disabled)
        self.headline.value = f'<span class="fy-sentence">{html.escape(headline)}</span>'
        self.details.value, self.ways.value, self.help.value = details, table, ""
        self.lines.children = ()
        self._jumps.children = [button(one.words, lambda place=one.place: self._go(place)) for one in jumps]
        self._working(False)

    def _working(self, on: bool) -> None:
        """Mark what stands here as out of date while a plan is being worked out."""
        if on:
            self.headline.value = html.escape(say("story.working"))
        (self.add_class if on else self.remove_class)("fy-old")


def _list(told: Steps, system: str) -> str:
    """What to do, as a list with numbers for the page; how it is done stands in its item."""
    items: list[str] = []
    for one in told.steps:
        text = html.escape(words.in_system(one, system))
        if isinstance(one, Under):
            items[-1] += f"<br>{text}"
        else:
            items.append(text)
    head = html.escape(words.in_system(told.words, system))
    return f"<p>{head}</p><ol>{''.join(f'<li>{one}</li>' for one in items)}</ol>"


def outcome_words(outcome: Outcome, story: Story) -> str:
    """What a plan says besides its short lines, for the page: what was counted as no, and the rules in full, folded."""
    verdict, no = outcome.verdict, counted_as_no(story)
    reason = "" if words.refused(verdict) else words.first_reason(verdict)
    lines = [
        words.verdict_sentence(verdict, outcome.keep),
        say("story.reason", reason=reason) if reason else "",
    ]
    counted = say("story.counted_as_no", sections=", ".join(say(f"section.{one.section}") for one in no)) if no else ""
    full = refused_words(outcome) + "".join(f"<p>{html.escape(line)}</p>" for line in lines if line)
    folded = f"<details><summary>{html.escape(say('story.in_full'))}</summary>{full}</details>"
    return (f"<p>{html.escape(counted)}</p>" if counted else "") + folded


def refused_words(outcome: Outcome) -> str:
    """That the batch is not to be made, with each reason and its way out, as a list for the page; nothing where it may."""
    if not words.refused(outcome.verdict):
        return ""
    told = words.changes_needed(outcome.verdict)
    items = [
        " ".join([*(reason.text for reason in reasons), *([words.WAY_OUT + way] if way else [])])
        for reasons, way in told
    ]
    return f"<p><b>{words.DO_NOT_MAKE}</b></p><ul>{''.join(f'<li>{html.escape(item)}</li>' for item in items)}</ul>"


def ways_table(outcome: Outcome) -> str:
    """The ways to keep the fish, as a table for the page; nothing where there is none."""
    found = ways.ways(outcome)
    if not found:
        return ""
    head, *rows = ways_text.rows(found)
    table = f"<thead>{_row(head, 'th')}</thead><tbody>{''.join(_row(row, 'td') for row in rows)}</tbody>"
    below = "".join(f"<p>{html.escape(line)}</p>" for line in [say("ways.same_fish"), *ways_text.foot(found)])
    title = html.escape(say("ways.title"))
    return f'<div class="fy-ways"><table><caption>{title}</caption>{table}</table></div>{below}'


def _row(cells: tuple[str, ...], tag: str) -> str:
    return f"<tr>{''.join(f'<{tag}>{html.escape(one)}</{tag}>' for one in cells)}</tr>"
