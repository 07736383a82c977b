"""What the page says beneath the story of a fish: what is still needed, or what the plan makes of it.

The plan is worked out when no answer has come for a moment, with the whole ensemble, so that it says what it says
everywhere else. What is out of date is never said.
"""

from __future__ import annotations

import asyncio
import html
import threading
from collections.abc import Callable
from contextlib import suppress

import ipywidgets as widgets

from flakeyard.messages import say
from flakeyard.steps.intent.batch_file import read_batch
from flakeyard.steps.plan import ways
from flakeyard.steps.plan.next_answer import next_answer
from flakeyard.steps.plan.plan import Outcome, plan
from flakeyard.workbook import begin_ending, words
from flakeyard.workbook.asking import Question, Story
from flakeyard.workbook.kept_story import counted_as_no, still_needed
from flakeyard.workbook.paper import ways_text

REST = 0.3  # s without an answer, after which the plan is worked out (judgement)


class StoryResult(widgets.VBox):
    """Headline, sentences, the answer that would help most, and the ways to keep the fish.

    A page may send two messages at once on two threads: whatever is shown waits for its turn, and so does a plan.
    """

    def __init__(self):
        self.headline = widgets.HTML(layout=widgets.Layout(min_height="2em")).add_class("fy-live")
        self.details, self.help, self.ways = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self._turn, self._planning = threading.RLock(), threading.Lock()
        self._state, self._next = None, None
        super().__init__([self.headline.add_class("fy-result"), self.details, self.help, self.ways])

    def follow(self, story: Story, refused: list[Question], here: set[str]) -> None:
        """Say what follows from a story.

        Parameters: refused – questions with an answer that was not taken; here – the sections that are asked on this page
        """
        state = (story, tuple(one.place for one in refused))
        with self._turn:
            if state == self._state:
                return
            self._state = state
            if self._next:
                self._next.cancel()
            needed = still_needed(story)
            if refused or needed:
                head = say("story.not_taken" if refused else "story.needed")
                self._say(head, needed_words(refused or needed, here))
            else:
                self._working(True)
                self._soon(self._work_out, state)

    def _soon(self, work: Callable[..., None], *given) -> None:
        """Do it when nothing was answered for a moment; outside a kernel, at once."""
        try:
            self._next = asyncio.get_running_loop().call_later(REST, work, *given)
        except RuntimeError:
            work(*given)

    def _work_out(self, state: tuple) -> None:
        """Plan the batch and say what comes of it; trouble becomes words."""
        found = self._in_time(state, lambda: self._planned(state[0]))
        with self._turn:
            if found is None or state is not self._state:
                return
            self._say(*found[1:])
            if found[0]:
                self._soon(self._find_help, state, found[0])

    def _planned(self, story: Story) -> tuple[Outcome | None, str, str, str]:
        try:
            outcome = plan(read_batch(story.typed))
            details, table = outcome_words(outcome, story), ways_table(outcome)
        except Exception as trouble:  # a learner is shown words, never a traceback
            return None, say("story.cannot"), html.escape(str(trouble)), ""
        return outcome, f"{words.headline(outcome.verdict, outcome.keep)}.", details, table

    def _find_help(self, state: tuple, outcome: Outcome) -> None:
        """The answer that would help most, which takes a little longer; the verdict stands without it."""
        with suppress(Exception):
            found = self._in_time(state, lambda: help_words(outcome))
            with self._turn:
                if state is self._state:
                    self.help.value = found

    def _in_time(self, state: tuple, work: Callable):
        """What comes of some work, one at a time; None where it is out of date before its turn comes."""
        with self._planning:
            return work() if state is self._state else None

    def _say(self, headline: str, details: str, table: str = "") -> None:
        self.headline.value = f'<span class="fy-sentence">{html.escape(headline)}</span>'
        self.details.value, self.ways.value, self.help.value = details, table, ""
        self._working(False)

    def _working(self, on: bool) -> None:
        """Mark what stands here as out of date while a plan is being worked out."""
        if on:
            self.headline.value = html.escape(say("story.working"))
        (self.add_class if on else self.remove_class)("fy-old")


def needed_words(open_ones: list[Question], here: set[str]) -> str:
    """What is needed before there is a verdict, as a list for the page; what other sections ask is one line."""
    items = [html.escape(one.words) for one in open_ones if one.section in here]
    items += [html.escape(say("story.elsewhere"))] * (len(items) < len(open_ones))
    return f"<ul>{''.join(f'<li>{item}</li>' for item in items)}</ul>"


def help_words(outcome: Outcome) -> str:
    """The answer that would help most, and the smallest change that would earn what was asked, for the page."""
    refused = words.refused(outcome.verdict)
    changes = begin_ending.mend_lines(outcome) if refused else [begin_ending.change_words(outcome)]
    lines = [begin_ending.help_words(next_answer(outcome.batch)), *changes]
    return "".join(f"<p>{html.escape(line)}</p>" for line in lines if line)


def outcome_words(outcome: Outcome, story: Story) -> str:
    """What a plan says beneath its headline, for the page: the verdict, why, what was counted as no, when to stop."""
    verdict, no = outcome.verdict, counted_as_no(story)
    reason = "" if words.refused(verdict) else words.first_reason(verdict)
    head, said = words.headline(verdict, outcome.keep), words.verdict_sentence(verdict, outcome.keep)
    lines = [
        said.removeprefix(f"{head}.").strip(),
        say("story.reason", reason=reason) if reason else "",
        say("story.counted_as_no", sections=", ".join(say(f"section.{one.section}") for one in no)) if no else "",
        *begin_ending.stop_words(outcome),
    ]
    return refused_words(outcome) + "".join(f"<p>{html.escape(line)}</p>" for line in lines if line)


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
    """The ways to keep the fish, as a table for the page, under what is to be said where it is not as asked."""
    found = ways.ways(outcome)
    told = [ways_text.not_granted(outcome, found), ways_text.wanted(outcome, found)]
    above = "".join(f"<p>{html.escape(line)}</p>" for line in told if line)
    if not found:
        return above
    head, *rows = ways_text.rows(found)
    table = f"<thead>{_row(head, 'th')}</thead><tbody>{''.join(_row(row, 'td') for row in rows)}</tbody>"
    below = "".join(f"<p>{html.escape(line)}</p>" for line in [say("ways.same_fish"), *ways_text.foot(found)])
    title = html.escape(say("ways.title"))
    return f'{above}<div class="fy-ways"><table><caption>{title}</caption>{table}</table></div>{below}'


def _row(cells: tuple[str, ...], tag: str) -> str:
    return f"<tr>{''.join(f'<{tag}>{html.escape(one)}</{tag}>' for one in cells)}</tr>"
