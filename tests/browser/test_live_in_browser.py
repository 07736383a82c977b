"""Pictures one can touch, in a real browser: the hand never waits, the page shows the numbers of paper, keys do all of it."""

import numpy as np
import pytest
from alone import drag, rest, show_alone
from conftest import write_notebook
from test_panels_in_browser import AXE

from flakeyard.workbook.panels import air, brine, drawing, fish, keeping, paper_pen, salt, water, weight, whole_batch
from flakeyard.workbook.panels.live import SHORT
from flakeyard.workbook.panels.panel import Choice

pytestmark = pytest.mark.browser

PANELS = {
    "salt": lambda: salt.salt_panel(time=7200.0, choice=Choice("metric")),
    "weight": lambda: weight.weight_panel(choice=Choice("metric")),
    "batch": lambda: whole_batch.whole_batch_panel(choice=Choice("metric")),
    "water": lambda: water.water_panel(choice=Choice("metric")),
    "fish": lambda: fish.fish_panel(choice=Choice("metric")),
    "air": lambda: air.air_panel(choice=Choice("metric")),
    "brine": lambda: brine.brine_panel(choice=Choice("metric")),
    "keeping": lambda: keeping.keeping_panel(choice=Choice("metric"), pack=2, humidity=0.70),
}
CURVES = """() => [...document.querySelectorAll('[data-field="1"] .fy-curve')].map(node => {
  const [left, right, foot, top, x0, x1, y0, y1] = node.closest('[data-frame]').dataset.frame.split(' ').map(Number);
  const at = node.getAttribute('d').slice(1).split('L').map(pair => pair.split(',').map(Number));
  return { style: node.dataset.mark, dash: node.style.strokeDasharray, points: at.map(([x, y]) =>
    [x0 + (x - left) / (right - left) * (x1 - x0), y0 + (foot - y) / (foot - top) * (y1 - y0)]) }; })"""
SHAPE = """() => { const [picture, words] = ['.fy-picture', '.fy-words'].map(
  part => document.querySelector(part).getBoundingClientRect()); return picture.left >= words.right - 1; }"""
EVERYTHING = "() => document.querySelector('.fy-touch').innerText + document.querySelector('.fy-touch svg').innerHTML"


# the other two panels are swept in the long run; what a learner touches first is tried on all of them every time
@pytest.fixture(params=["salt", *(pytest.param(name, marks=pytest.mark.slow) for name in PANELS if name != "salt")])
def shown(request, page):
    return ready(page, request.param)


def ready(page, name: str):
    page.set_viewport_size({"width": 1300, "height": 900})
    page.emulate_media(color_scheme="light", reduced_motion="no-preference", forced_colors="none")
    page.panel = PANELS[name]()
    return show_alone(page, page.panel)


def grip(page, name=None):
    return page.locator(".fy-grip").first if name is None else page.locator(f".fy-grip[aria-label='{name}']")


def said(page) -> str:
    rest(page)
    return page.locator(".fy-words").inner_text()


def unfold(page) -> None:
    """The sliders that are not in view, where there are any."""
    if page.locator(".fy-more").is_visible():
        page.locator(".fy-more > summary").click()


# the thing itself


@pytest.mark.parametrize("name", PANELS)
def test_dragging_the_thing_changes_what_is_said_and_escape_puts_it_back(page, name):
    shown = ready(page, name)
    handle, before = grip(shown), said(shown)
    stood = handle.get_attribute("aria-valuetext")
    across = "fy-across" in handle.get_attribute("class")
    drag(shown, handle, dx=40 if across else 0, dy=0 if across else 50, up=False)
    assert handle.get_attribute("aria-valuetext") != stood
    after = said(shown)
    beside = f"{stood} before" if len(stood) <= SHORT else "before"  # more has no room beside a curve
    assert after != before and "→" in after and beside in shown.locator(".fy-touch svg").text_content()
    shown.keyboard.press("Escape")
    shown.mouse.up()
    assert handle.get_attribute("aria-valuetext") == stood
    assert said(shown).split("\n")[-1] == before.split("\n")[-1]


def test_numbers_in_the_page_are_the_numbers_on_paper(shown):
    grip(shown).press("ArrowRight")
    rest(shown)
    drawn = list({one["style"]: one for one in shown.evaluate(CURVES)}.values())
    lines = {line.get_label(): line for line in paper_pen.on_paper(shown.panel.record).axes[1].lines}
    assert {"ghost", "now"} <= {one["style"] for one in drawn}
    for one in drawn:
        x, y = np.transpose(one["points"])
        np.testing.assert_allclose(x, lines[one["style"]].get_xdata(), atol=0.002)  # 0.005 px of rounding
        np.testing.assert_allclose(y, lines[one["style"]].get_ydata(), atol=0.004 if max(y) < 40 else 0.02)
        dash = [float(part.removesuffix("px")) for part in one["dash"].replace(",", " ").split() if part != "none"]
        assert dash == drawing.STYLES[one["style"]]["dash"]


def test_keys_move_every_handle_and_its_slider_with_it(shown):
    for handle in shown.locator(".fy-grip").all():
        slider = shown.get_by_label(handle.get_attribute("aria-label"), exact=True).and_(shown.locator("input"))
        if not slider.is_visible():
            unfold(shown)
        seen = set()
        for key in ("Home", "ArrowRight", "PageUp", "ArrowLeft", "End", "ArrowUp", "ArrowDown", "PageDown"):
            handle.press(key)
            seen.add(handle.get_attribute("aria-valuenow"))
            assert handle.get_attribute("aria-valuenow") == slider.input_value()
        assert len(seen) >= 4
    rest(shown)
    shown.wait_for_timeout(500)
    assert shown.locator(".fy-spoken").inner_text().startswith(shown.panel.record["spoken"][:40])
    assert shown.panel.said.sentence in shown.locator("svg > g[role=img]").get_attribute("aria-label")


def test_every_slider_tells_in_the_page(shown):
    unfold(shown)
    for slider in shown.locator("input[type=range]").all():
        ends = []
        for key in ("Home", "End"):
            slider.press(key)
            rest(shown)
            ends.append(shown.evaluate(EVERYTHING))
        assert ends[0] != ends[1], slider.get_attribute("id")
        shown.get_by_role("button", name="Back to the start").click()
        rest(shown)
    assert shown.panel.values == {one.name: one.start for one in shown.panel.controls}


def test_a_finger_drags_and_the_page_does_not_scroll(shown):
    shown.set_viewport_size({"width": 390, "height": 700})
    shown.wait_for_timeout(120)
    hand = shown.context.new_cdp_session(shown)
    hand.send("Emulation.setTouchEmulationEnabled", {"enabled": True})
    grip(shown).scroll_into_view_if_needed()
    box, before = grip(shown).bounding_box(), grip(shown).get_attribute("aria-valuenow")
    assert min(box["width"], box["height"]) > 43.9
    x, y, scrolled = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, shown.evaluate("scrollY")
    hand.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 9):
        hand.send(
            "Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x + 4 * step, "y": y + 4 * step}]}
        )
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    hand.send("Emulation.setTouchEmulationEnabled", {"enabled": False})
    assert grip(shown).get_attribute("aria-valuenow") != before and shown.evaluate("scrollY") == scrolled
    assert shown.evaluate("document.documentElement.scrollWidth") <= 390


# a guess first


def test_a_guess_is_put_down_before_the_panel_wakes_and_is_answered(page):
    page.set_viewport_size({"width": 1300, "height": 900})
    panel = PANELS["salt"]()
    show_alone(page, panel, asleep=True)
    assert page.locator(".fy-curve[data-mark=now]").count() == 0
    assert not page.locator(".fy-large").is_visible() and page.locator(".fy-caution").is_visible()
    page.locator(".fy-grip[aria-label*=guess]").nth(1).press("PageDown")
    page.get_by_role("button", name="Show what is computed").click()
    rest(page)
    assert page.locator(".fy-curve[data-mark=guess]").count() == page.locator(".fy-curve[data-mark=now]").count() == 1
    assert page.locator(".fy-reply").inner_text().startswith("You guessed 3.5")
    grip(page).press("ArrowDown")
    rest(page)
    assert page.locator(".fy-curve[data-mark=guess]").count() == 1 and panel.record["reply"]


@pytest.mark.parametrize("touched", [".fy-grip[aria-label=Thickness]", "input[id$=thickness]"])
def test_nobody_has_to_guess(page, touched):
    panel = PANELS["salt"]()
    show_alone(page, panel, asleep=True)
    page.locator(touched).press("ArrowRight")
    rest(page)
    assert panel.values["thickness"] == 0.006  # the first touch counts
    assert (
        page.locator(".fy-curve[data-mark=now]").count() == 1
        and page.locator(".fy-curve[data-mark=guess]").count() == 0
    )


# the page around it


def test_columns_follow_the_width_and_nothing_is_wider_than_the_page(shown):
    for width, beside in (
        (1160, True),
        (1080, False),
        (700, False),
        (390, False),
        (320, False),
    ):  # 700 is 1400 at 200 %
        shown.set_viewport_size({"width": width, "height": 900})
        shown.wait_for_timeout(120)
        assert shown.evaluate(SHAPE) is beside
        assert shown.evaluate("document.documentElement.scrollWidth") <= width
    shown.set_viewport_size({"width": 900, "height": 548})
    shown.wait_for_timeout(120)
    shown.evaluate("scrollTo(0, 90)")
    assert shown.locator(".fy-picture").bounding_box()["y"] == pytest.approx(0, abs=1)  # it stays in sight


@pytest.mark.parametrize(
    ("width", "room"), [(1160, 600), (930, 700)]
)  # what 1366 × 768 leaves without, with a side bar
def test_a_panel_needs_no_scrolling(shown, width, room):
    shown.set_viewport_size({"width": width, "height": 900})
    shown.wait_for_timeout(120)
    assert shown.locator(".fy-touch").bounding_box()["height"] <= room


def test_no_motion_where_none_is_wanted(shown):
    shown.emulate_media(reduced_motion="reduce")
    shown.wait_for_timeout(50)
    assert shown.locator(".fy-curve").first.evaluate("node => getComputedStyle(node).transitionDuration") == "0s"
    if shown.panel.lesson.plays:
        before = shown.panel.values[shown.panel.lesson.plays]
        shown.get_by_role("button", name=shown.panel.lesson.play_words[1]).click()
        shown.wait_for_timeout(400)
        assert shown.panel.values[shown.panel.lesson.plays] > before


def test_large_type_and_print_and_forced_colours(shown):
    size = "() => document.querySelector('.fy-axes text').getBoundingClientRect().height"
    small = shown.evaluate(size)
    shown.get_by_role("button", name="Large type").click()
    assert shown.evaluate(size) > 1.25 * small
    shown.emulate_media(forced_colors="active")
    assert shown.locator(".fy-knob").first.evaluate("node => getComputedStyle(node).stroke") != "none"
    shown.emulate_media(media="print", forced_colors="none")
    assert not shown.locator(".fy-controls").is_visible() and shown.locator(".fy-caution").is_visible()
    shown.emulate_media(media="screen")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(shown, scheme):
    shown.emulate_media(color_scheme=scheme)
    unfold(shown)
    shown.evaluate(AXE.read_text() + ";undefined")
    for _ in range(2):
        result = shown.evaluate("async () => await axe.run('.fy-touch', {resultTypes: ['violations']})")
        assert [(rule["id"], node["html"][:200]) for rule in result["violations"] for node in rule["nodes"]] == []
        drag(shown, shown.locator(".fy-grip:visible").first, dx=20, dy=20)
        shown.locator(".fy-show").click()
        shown.wait_for_timeout(600)


# the hand and the kernel


def test_a_kernel_that_does_not_answer_holds_no_handle_up(shown):
    shown.evaluate("window.deaf = true")
    handle, before = grip(shown), grip(shown).get_attribute("aria-valuetext")
    for _ in range(6):
        handle.press("ArrowRight")
    assert handle.get_attribute("aria-valuetext") != before
    assert shown.evaluate("[store.asked, store.serial]") == [1, 6]
    shown.wait_for_timeout(4200)
    assert "has not answered" in shown.locator(".fy-late").inner_text()


STORE = """([setup, record]) => {
  const asked = [], second = document.createElement('div');
  document.body.append(second);
  const store = live.makeStore(setup, record, question => asked.push(structuredClone(question)));
  store.asleep = false;
  const main = document.querySelector('main');
  window.close();
  const ends = [live.show(main, store), live.show(second, store)];
  const text = n => document.querySelectorAll('.fy-touch')[n].querySelector('.fy-grip').getAttribute('aria-valuenow');
  const answer = question => store.answer({ ...record, ...question });
  const name = record.handles[0].control, values = setup.controls.find(one => one.name === name).values;
  for (let n = 4; n <= 9; n++) store.want({ [name]: values[n] });
  const out = { first: asked.length, both: [text(0), text(1)] };
  answer(asked[0]); out.second = asked.map(one => values.indexOf(one.values[name])); out.stays = text(0);
  answer(asked[1]); answer(asked[0]); out.dropped = store.dropped; out.end = text(1); out.asked = asked.length;
  store.answer({ ...record, values: { ...record.values, [name]: values[2] } }); out.kernel = text(0);
  const ids = [...document.querySelectorAll('[id]')].map(node => node.id); out.ids = new Set(ids).size === ids.length;
  ends.forEach(end => end()); store.end(); store.answer(record); out.left = document.querySelectorAll('.fy-touch').length;
  return out; }"""


def test_one_question_at_a_time_the_newest_wins_and_two_views_agree(shown):
    out = shown.evaluate(STORE, [shown.panel.setup, shown.panel.record])
    assert out["first"] == 1 and out["both"] == ["9", "9"]  # moved at once, asked once
    assert out["second"] == [4, 9] and out["stays"] == "9"  # what lay between was never asked; no jump back
    assert out["dropped"] == 1 and out["end"] == "9" and out["asked"] == 2
    assert out["kernel"] == "2" and out["ids"] and out["left"] == 0


FORESEEN = """([setup, record]) => {
  const asked = [], timers = new Map(), [later, never] = [window.setTimeout, window.clearTimeout];
  let count = 0;
  window.setTimeout = (what, pause) => timers.set(++count, [what, pause]) && count;
  window.clearTimeout = which => timers.delete(which);
  const store = live.makeStore(setup, record, question => asked.push(structuredClone(question)));
  const pass = () => { const [which, [what, pause]] = [...timers][0]; timers.delete(which); what(); return pause; };
  const leave = store.watch(() => {}), name = record.handles[0].control;
  const values = setup.controls.find(one => one.name === name).values, pauses = [];
  store.values[name] = values[4];
  store.want({ [name]: values[5] });
  store.answer({ ...record, values: asked[0].values, who: asked[0].who, serial: asked[0].serial });
  while (timers.size) pauses.push(pass());
  const told = asked.splice(0).slice(1);
  store.want({ [name]: values[6] });
  store.answer({ ...record, values: asked[0].values, who: asked[0].who, serial: asked[0].serial });
  pass(); store.want({ [name]: values[7] });
  const hushed = [...timers.values()].length;
  leave(); store.end(); store.answer(record);
  Object.assign(window, { setTimeout: later, clearTimeout: never });
  return { told, pauses, hushed, left: timers.size, first: values[6], name }; }"""


def test_while_the_hand_rests_the_steps_beside_it_are_worked_out(shown):
    out = shown.evaluate(FORESEEN, [shown.panel.setup, shown.panel.record])
    first, *beside = out["told"]
    assert first["ahead"][out["name"]] == out["first"] and not first["spare"]  # the same way on, at once
    others = [one for one in shown.panel.setup["controls"] if one["in_view"] and one["name"] != out["name"]]
    assert all(one["spare"] for one in beside) and len(others) <= len(beside) <= 2 * len(others)
    assert all(one["ahead"][out["name"]] == beside[0]["ahead"][out["name"]] for one in beside)
    assert out["pauses"][0] < 100 and all(pause >= 500 for pause in out["pauses"][1:])
    assert out["hushed"] == 1 and out["left"] == 0  # a move ends it: only the watch on its answer is left


@pytest.mark.parametrize(("load", "worked_out"), [(0.1, 1), (99.0, 0), (None, 0)])
def test_nothing_is_worked_out_beside_where_others_work(monkeypatch, load, worked_out):
    panel = salt.salt_panel(time=7200.0, choice=Choice("metric"))
    if load is None:
        monkeypatch.delattr("os.getloadavg", raising=False)
    else:
        monkeypatch.setattr("os.getloadavg", lambda: (load, load, load), raising=False)
    before, control = len(panel._kept), panel.controls[0]
    panel._asked(panel, {"ahead": panel.values | {control.name: control.values()[-1]}, "spare": True}, [])
    assert len(panel._kept) - before == worked_out
    panel._asked(panel, {"ahead": panel.values | {control.name: control.values()[0]}, "spare": False}, [])
    assert len(panel._kept) - before == worked_out + 1


# in JupyterLab

LAB = """from flakeyard.workbook.panels import salt
from flakeyard.workbook.panels.panel import Choice, choose_units
choice = Choice('metric')
choose_units(choice)"""
BUSY = """void window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.requestExecute(
  {code: 'for _ in range(3): sum(range(3 * 10**7))'})"""


def test_in_lab_two_views_follow_a_busy_kernel_and_other_units(notebooks, open_notebook, shoot):
    write_notebook(notebooks / "live.ipynb", LAB, "panel = salt.salt_panel(choice=choice)\npanel", "panel")
    page = open_notebook("live.ipynb")
    page.set_viewport_size({"width": 1366, "height": 768})
    views = page.locator(".fy-touch")
    views.nth(1).wait_for()
    first, second = (views.nth(n).locator(".fy-grip[aria-label=Thickness]") for n in (0, 1))
    first.press("ArrowDown")  # wakes the first view
    second.press("ArrowDown")
    page.evaluate(BUSY)
    drawn = "() => window.drawn = 0, new MutationObserver(() => window.drawn++).observe(document.querySelector('.fy-touch svg > g[role=img]'), { childList: true })"
    page.evaluate(f"() => {{ {drawn.removeprefix('() => ')} }}")
    for _ in range(4):
        first.press("ArrowDown")
    assert first.get_attribute("aria-valuetext") == second.get_attribute("aria-valuetext") == "11 mm"
    page.wait_for_function("() => !document.querySelector('.fy-waiting')")
    page.wait_for_timeout(300)
    numbers = [views.nth(n).locator(".fy-large").inner_text() for n in (0, 1)]
    assert numbers[0] == numbers[1] and "→" in numbers[0]
    page.get_by_label("US (oz, in, °F)").check()
    page.locator(".fy-side", has_text="inches under").first.wait_for()
    assert "in" in views.nth(0).locator(".fy-grip").first.get_attribute("aria-valuetext")
    page.evaluate("window.jupyterapp.commands.execute('apputils:change-theme', { theme: 'JupyterLab Dark' })")
    page.wait_for_selector("[data-jp-theme-light=false]", state="attached")
    stroke = views.first.locator(".fy-curve[data-mark=now]").evaluate("node => getComputedStyle(node).stroke")
    page.evaluate("window.jupyterapp.commands.execute('apputils:change-theme', { theme: 'JupyterLab Light' })")
    page.wait_for_selector("[data-jp-theme-light=true]", state="attached")
    assert stroke == "rgb(86, 180, 233)"
    page.evaluate("window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    page.wait_for_function("() => !document.querySelector('.fy-touch')")


LAID_OVER = """() => {
  const all = [...document.querySelectorAll('[data-field="1"] text')].filter(node => node.textContent.trim());
  const boxes = all.map(node => [node.textContent, node.getBoundingClientRect()]);
  return boxes.flatMap(([one, a], n) => boxes.slice(n + 1).filter(([, b]) =>
    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4
  ).map(([other]) => `${one} | ${other}`)); }"""


@pytest.mark.parametrize("name", ["batch", "fish", "weight"])
def test_no_words_in_the_plot_lie_over_others_on_a_tablet(page, name):
    """What stands beside curves keeps off the words of a handle, of a point and of the hatch, asleep and awake."""
    page.set_viewport_size({"width": 664, "height": 1000})
    shown = show_alone(page, PANELS[name](), asleep=True)
    shown.locator(".fy-show").wait_for()
    assert shown.evaluate(LAID_OVER) == []
    shown.locator(".fy-show").click()
    for slider in shown.locator("input:visible").all():
        for key in ("Home", "ArrowRight", "End"):
            slider.press(key)
            rest(shown)
            assert shown.evaluate(LAID_OVER) == []


TOUCHED = """() => {
  const all = (what, among = '.fy-touch svg') => [...document.querySelectorAll(`${among} ${what}`)];
  const words = all('text:not(.fy-inside)').filter(node => node.textContent.trim()).map(node => [node.textContent, node.getBoundingClientRect()]);
  const things = all(':is(.fy-flesh, .fy-dot, .fy-knob)').map(node => [node.getAttribute('class'), node.getBoundingClientRect()]);
  const lie = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 0 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4;
  const touched = words.flatMap(([one, a], n) => [...words.slice(n + 1), ...things].filter(([, b]) => lie(a, b)).map(([other]) => `${one} | ${other}`));
  const axis = document.querySelector('[data-field="1"] .fy-axes').textContent;
  return touched.filter(pair => !axis.includes(pair.split(' | ')[0])); }"""
CROSSED = """() => [...document.querySelectorAll('[data-field="1"] .fy-dot + .fy-strong')].map(node => {
  const box = node.getBoundingClientRect(), point = node.ownerSVGElement.createSVGPoint();
  const inside = curve => Array.from({ length: 200 }, (_, n) => curve.getPointAtLength(n / 199 * curve.getTotalLength())).some(at => {
    Object.assign(point, { x: at.x, y: at.y });
    const seen = point.matrixTransform(curve.getScreenCTM());
    return seen.x > box.left && seen.x < box.right && seen.y > box.top + 3 && seen.y < box.bottom - 3; });
  return [...document.querySelectorAll('[data-field="1"] .fy-curve')].filter(inside).length; })"""


@pytest.mark.parametrize(
    ("made", "settings"),
    [
        (weight.weight_panel, {"thickness": 0.006}), (weight.weight_panel, {"thickness": 0.012, "thicker": 0.2}),
        (air.air_panel, {"load": 4.0}), (air.air_panel, {"load": 2.5}), (brine.brine_panel, {"fish": 0.25}),
    ],
)  # fmt: skip
@pytest.mark.parametrize("width", [768, 800])
def test_no_words_touch_what_is_drawn_on_a_tablet(page, made, settings, width):
    page.set_viewport_size({"width": width, "height": 1100})
    shown = show_alone(page, made(choice=Choice("both"), **settings))
    rest(shown)
    assert shown.evaluate(TOUCHED) == []


@pytest.mark.parametrize("cups", [2, 4, 8])  # quarters
def test_the_words_of_a_brine_lie_on_no_curve(page, cups):
    page.set_viewport_size({"width": 800, "height": 1100})
    shown = show_alone(page, brine.brine_panel(choice=Choice("both"), salt=brine.CUP / 4 * cups))
    rest(shown)
    assert shown.evaluate(CROSSED) == [0, 0]


@pytest.mark.parametrize(("name", "steps", "clock"), [("weight", 21, "h"), ("keeping", 20, "day")])
def test_a_guess_and_the_words_of_the_clock_do_not_touch(page, name, steps, clock):
    ready(page, name)
    rest(page)
    page.click(".fy-show")
    page.locator(".fy-grip:visible").last.press("ArrowRight")
    page.click(".fy-show")
    rest(page)
    for _ in range(steps):
        page.locator(".fy-grip").last.press("ArrowRight")
    rest(page)
    page.wait_for_timeout(200)
    boxes = page.evaluate("""() => [...document.querySelectorAll('svg text')].filter(one => one.textContent)
      .map(one => { const box = one.getBoundingClientRect(); return [one.textContent, box.left, box.right, box.top, box.bottom]; })""")
    guess = next(one for one in boxes if one[0] == "your guess")
    beside = [one for one in boxes if clock in one[0].split() and abs(one[3] - guess[3]) < 30]
    assert beside  # the words of the clock
    for one in beside:
        assert guess[1] >= one[2] or one[1] >= guess[2] or guess[3] >= one[4] - 4 or one[3] >= guess[4] - 4, (
            guess,
            one,
        )
