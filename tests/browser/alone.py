"""A live panel in a page of its own: Python answers the page's questions as a kernel would, without JupyterLab."""

import json

from flakeyard.workbook.panels.live import SOURCE

PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>a live panel</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>@CSS@ html {{ color-scheme: light dark; background: light-dark(#fff, #16181a); }} body {{ margin: 0; padding: 12px; }}</style>
</head><body class="fy-alone"><main></main></body></html>""".replace("{{", "{").replace("}}", "}")
START = """async ([source, setup, record, asleep]) => {
  const live = await import(URL.createObjectURL(new Blob([source], { type: 'text/javascript' })));
  const store = live.makeStore(setup, record, question => {
    if (window.deaf) return;   // a kernel that does not answer
    window.ask(JSON.stringify(question)).then(answer => answer && store.answer(JSON.parse(answer)));
  });
  if (!asleep) store.asleep = false;
  Object.assign(window, { store, live, close: live.show(document.querySelector('main'), store) });
}"""
RESTS = "() => window.store.shown >= window.store.serial && !window.store.flying"


def show_alone(page, panel, asleep=False):
    """Show a panel in a page, awake unless told otherwise, and let it ask its Python side."""

    def ask(text: str) -> str:
        question = json.loads(text)
        panel._asked(panel, question, [])
        return "" if "ahead" in question else json.dumps(panel.record)

    page.goto("about:blank")
    page.set_content(PAGE.replace("@CSS@", SOURCE.joinpath("live.css").read_text(encoding="utf-8")))
    page.expose_function("ask", ask)
    source = SOURCE.joinpath("live.js").read_text(encoding="utf-8")
    page.evaluate(START, [source, panel.setup, panel.record, asleep])
    return page


def rest(page) -> None:
    """Wait until every question is answered."""
    page.wait_for_function(RESTS)


def drag(page, handle, dx=0.0, dy=0.0, steps=6, up=True) -> None:
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx, y + dy, steps=steps)
    if up:
        page.mouse.up()
