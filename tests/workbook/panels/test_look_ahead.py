"""A panel that looks ahead: the next step of a slider is worked out while the hand rests, and only then."""

import asyncio
import threading

import pytest
import toy

from flakeyard.workbook.panels import panel as panels
from flakeyard.workbook.panels.panel import Panel


@pytest.fixture
def asked():
    return []


@pytest.fixture
def panel(asked):
    def compute(**values):
        asked.append(round(1000 * values["depth"]))
        return toy.compute(**values)

    made = Panel("Toy", toy.CONTROLS, compute, toy.picture, toy.draw, toy.tell, look_ahead=True)
    asked.clear()
    return made


def moved(panel, *values, name="depth", rest=10 * panels.REST):
    """Move the slider in a running loop, as a kernel would, then rest."""

    async def hand():
        for value in values:
            panel.sliders[name].value = value
        await asyncio.sleep(rest)

    thread = threading.Thread(target=asyncio.run, args=(hand(),))  # a browser test before may have left a loop in ours
    thread.start()
    thread.join()


def test_the_next_step_the_same_way_is_worked_out_while_the_hand_rests(panel, asked):
    moved(panel, 0.006)
    assert asked == [6, 7]
    moved(panel, 0.005)
    assert asked == [6, 7, 5, 4]


def test_a_hand_that_does_not_rest_is_followed_and_nothing_else(panel, asked):
    moved(panel, 0.006, 0.007, 0.008)
    assert asked == [6, 7, 8, 9]


def test_nothing_is_worked_out_beyond_the_end_of_a_slider(panel, asked):
    moved(panel, 0.009)
    assert asked == [9]


def test_what_is_shown_and_said_does_not_change_by_looking_ahead(panel):
    panel.sliders["warmth"].value = 30.0
    moved(panel, 0.007, rest=0.0)
    shown = panel._image.value, panel.said
    moved(panel, 0.008)  # the next step, 9 mm in this warmth, cannot be worked out
    assert panel.trouble is None and (panel._image.value, panel.said) != shown


def test_without_a_kernel_a_panel_that_looks_ahead_is_like_any_other(panel, asked):
    panel.sliders["depth"].value = 0.006
    assert asked == [6]
