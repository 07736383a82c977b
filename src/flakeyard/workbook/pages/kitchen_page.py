"""The kitchen page: one HTML file for one batch that says what to do now and next, and learns from weighings without Python.

The page is put together from the plan's numbers (`steps.learn.exported`), the arithmetic of learning (kitchen_learn.js), the
pictures of the panels (live.js) and its own keys and words (kitchen_page.js). It asks nobody for anything; where a kernel
or a server of ours is there to ask, it may ask that one too.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from importlib.resources import files
from pathlib import Path

import numpy as np

from flakeyard.files import write_whole
from flakeyard.messages import code, draft_line, point, say, unfilled
from flakeyard.steps.chain.drying import HORIZON_HOURS
from flakeyard.steps.intent.partial import nothing_told
from flakeyard.steps.intent.records import Batch
from flakeyard.steps.judge.safety import EAT, KEEP
from flakeyard.steps.learn.exported import Exported, exported
from flakeyard.steps.learn.log_cells import COLUMNS, LIGHTEST
from flakeyard.steps.plan import plan as batches
from flakeyard.steps.plan.plan import Outcome
from flakeyard.units import OUNCE
from flakeyard.workbook import own, words
from flakeyard.workbook.panels.drawing import RAMPS, STYLES
from flakeyard.workbook.paper import card, kitchen
from flakeyard.workbook.paper.card_back import LOOK_FOR

PAGES, PANELS = (files("flakeyard.workbook").joinpath(name) for name in ("pages", "panels"))
SYSTEMS = ("metric", "us")
# What a log may tell and a page does not follow.
READ = ("water_activity", "water_activity_error", "strip_salt_percent", "oven_dry_g")  # cells that the page asks for
MEASURED = ("room", "room_humidity", "strip_salt", "oven_dry", "water_activity")


def write_page(page: str, output: str | Path) -> Path:
    """Write a page; an older one stays as a numbered copy. Raises: OSError"""
    return write_whole(output, page, keep_copy=True)


def kitchen_page(
    batch: Batch, system: str = "metric", name: str = "batch", ask: str = "", token: str = "", log: str | None = None,
    **more: str,
) -> str:  # fmt: skip
    """The page of a batch; one that is not to be made, or has no weight to stop at, gets one that says why.

    Parameters: system – units at first; name – of the batch's file; ask – where a server of ours, or a kernel, listens, ""
    for none; token – what it is asked with; log – to begin with, where somebody listens; more – ``log_name``, the file of
    that log, and ``note``, a word on the batch
    """
    outcome = batches.plan(batch)
    if why_not(outcome):
        return refused_page(outcome, system, more.get("note", ""))
    told = page_data(exported(batch), system, name) | {"ask": ask, "token": token, "log": log} | more
    return _filled("kitchen_page.html", _parts(told, ask), _inserts(told))


def why_not(outcome: Outcome) -> list[str]:
    """Why there is nothing to weigh for; empty where there is."""
    if nothing_told(outcome.batch):
        return [own.still_borrowed(outcome.batch)]
    if words.refused(outcome.verdict):
        return [
            words.DO_NOT_MAKE,
            *(line for reasons, way in words.changes_needed(outcome.verdict) for line in _needed(reasons, way)),
        ]
    if outcome.load.no_drying:
        return [kitchen.nothing_to_dry(outcome)]
    return [] if outcome.load.reached and outcome.drying["mass_ratio"].mid is not None else [say("kitchen.no_stop")]


def _needed(reasons, way: str) -> list[str]:
    return [*(reason.text for reason in reasons), *([f"{words.WAY_OUT}{way}"] if way else [])]


def page_data(made: Exported, system: str, name: str) -> dict:
    """All that the page knows, ready for JSON; its ``id`` is that of the batch, so a page made anew finds its log."""
    outcome, numbers = made.outcome, made.numbers
    errors, judged = numbers["errors"], numbers["judged"]
    days = outcome.keep.days if outcome.keep.place == "cupboard" else None
    told = {
        "title": outcome.batch.title, "system": system, "log_name": f"{name}-weighings.csv",
        "trays": outcome.batch.dryer.trays, "percent": words.stop_percent(outcome.load.mass_ratio), "dial": outcome.batch.dryer.temperature,
        "turns": [numbers["dials"][0], numbers["dials"][-1]], "dial_ends": numbers["dial_ends"], "plan": list(outcome.drying["hours_to_target"].as_dict().values()),
        "old": HORIZON_HOURS, "ounce": 1000 * OUNCE, "horizon": float(numbers["hours"][-1]), "gain": errors["gain"], "gain_kg": errors["gain_kg"], "least_left": errors["least_left"], "jump": errors["jump"],
        "ends": _ends(), "measured": [name for name, column in COLUMNS.items() if column.means in MEASURED],
        "judged": {
            "plan": judged["plan"], "keep_words": [[words.SHAPES[key], words.keep_words(key, days)] for key in KEEP],
            "eat_words": [[words.SHAPES[key], words.eat_words(key)] for key in EAT],
            "later": [words.LATER_EAT.get(key, words.eat_words(key)) for key in EAT], "unknown": [KEEP.index("not_known"), EAT.index("not_known")],
            "cook": EAT.index("cook_first"), "never": [KEEP.index("nowhere"), EAT.index("no")],
        },
        "texts": {one: _texts(outcome, one) for one in SYSTEMS}, "words": unfilled("phone."), "point": point(),
        "styles": STYLES, "ramps": RAMPS, "live_words": {name: text for name, text in unfilled("live.").items() if "." not in name}, "numbers": travelling(numbers),
    }  # fmt: skip
    return told | {"id": _name_of(outcome.batch)}


def _ends() -> dict[str, list[float]]:
    """From where to where a reading may go, as it is typed; a sample and what an oven leaves of it share their ends."""
    typed = {name: COLUMNS[name] for name in READ}
    ends = {name: [round(end / one.factor, 6) for end in (one.low, one.high)] for name, one in typed.items()}
    return ends | {"sample": [1000 * LIGHTEST, ends["oven_dry_g"][1]]}


def _name_of(batch: Batch) -> str:
    """A name for the log of a batch that stays the same when its page is made anew."""
    return hashlib.sha256(f"{batch.title} {batch.fish} {batch.cut}".encode()).hexdigest()[:12]


def _texts(outcome: Outcome, system: str) -> dict:
    """What is said in the units chosen: the cautions of each moment, all of them, and who knows better."""
    placed = kitchen.Placed(outcome)
    placed.take("head")
    said = [*outcome.verdict.reasons, *outcome.verdict.cautions]
    lay, stop = placed.take("heat", "lay"), placed.take("stop")
    told = {
        "heed": {
            "lay": lay, "dry": card.hardest(outcome),
            "done": [*stop, *map(say, LOOK_FOR), *(" ".join(step) for step in kitchen.to_the_end(outcome, placed)), card.keep_until(outcome, None)],
        },
        "cautions": list(dict.fromkeys(one.text for one in said)), "ask": f"{words.where_to_ask()} {words.when_ill()}",
        "caution": words.caution_line(outcome.verdict), "not_known": words.NOT_KNOWN, "cook": words.COOK,
    }  # fmt: skip
    return _in_system(told, system)


def _in_system(told, system: str):
    if isinstance(told, dict):
        return {name: _in_system(one, system) for name, one in told.items()}
    return [_in_system(one, system) for one in told] if isinstance(told, list) else words.in_system(told, system)


def _parts(told: dict, ask: str) -> dict[str, str]:
    """Words that stand in the page from the beginning."""
    names = {"NOW": "phone.now", "WAIT": "phone.wait", "STOP": "phone.stop"}
    names |= {"VERDICT": "phone.verdict_title", "CAUTIONS": "phone.cautions", "LAPTOP": "phone.laptop"}
    asks = f"; connect-src {ask}" if ask.startswith("http") else ""
    return {mark: say(name) for mark, name in names.items()} | {
        "TITLE": told["title"],
        "ASKS": asks,
        "LANG": code(),
    }


def _inserts(told: dict) -> dict[str, str]:
    """What the page is made of: the machine of the panels, the arithmetic, the screen, and the numbers."""
    data = json.dumps(told, separators=(",", ":"), ensure_ascii=False).replace("</", "<\\/")
    return {
        "LIVE": _code(PANELS.joinpath("live.js")), "LEARN": _code(PAGES.joinpath("kitchen_learn.js")),
        "PAGE": _code(PAGES.joinpath("kitchen_page.js")), "LIVE_CSS": PANELS.joinpath("live.css").read_text(encoding="utf-8"),
        "DATA": data, "DRAFT": f'<p class="warn">{html.escape(draft_line())}</p>' if draft_line() else "",
    }  # fmt: skip


def _code(path) -> str:
    """A script without its exports, because all of it stands in one."""
    return re.sub(
        r"^export (default )?",
        lambda found: "const widget = " if found[1] else "",
        path.read_text(encoding="utf-8"),
        flags=re.M,
    )


def _filled(name: str, parts: dict[str, str], inserts: dict[str, str]) -> str:
    """A template with words, made safe for HTML, and with parts that are code, each put in once."""
    text = PAGES.joinpath(name).read_text(encoding="utf-8")
    told = {mark: html.escape(part) for mark, part in parts.items()} | inserts
    return re.sub(r"@([A-Z_]+)@", lambda found: told[found[1]], text)


def refused_page(outcome: Outcome, system: str, note: str = "") -> str:
    """A page without a step: why the batch is not made or has nothing to weigh for, and who can be asked."""
    lines = [
        *filter(None, [note]),
        *why_not(outcome),
        words.caution_line(outcome.verdict),
        f"{words.where_to_ask()} {words.when_ill()}",
        *filter(None, [draft_line()]),
    ]
    told = "".join(f"<p>{html.escape(words.in_system(line, system))}</p>" for line in lines)
    title = html.escape(outcome.batch.title)
    verdict = html.escape(words.headline(outcome.verdict, outcome.keep))
    parts = {
        "TITLE": title,
        "HEAD": html.escape(say("phone.no_page")),
        "VERDICT": verdict,
        "TOLD": told,
        "LANG": code(),
    }
    return re.sub(r"@([A-Z_]+)@", lambda found: parts[found[1]], REFUSED)


REFUSED = """<!doctype html><html lang="@LANG@"><head><meta charset="utf-8"><title>@TITLE@</title>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1"><style>:root { color-scheme: light dark; }
body { font: 18px/1.45 system-ui, 'DejaVu Sans', sans-serif; max-width: 34rem; margin: 0 auto; padding: 0.8rem; } h1 { font-size: 1.3rem; }
.verdict { font-size: 1.4rem; font-weight: 700; border: 3px solid; padding: 0.5rem; }</style></head>
<body><main><h1>@TITLE@</h1><p class="verdict">@VERDICT@</p><p>@HEAD@</p>@TOLD@</main></body></html>
"""


def travelling(value):
    """Numbers as JSON carries them: arrays of floats and of whole numbers as bytes, all else as it is.

    Returns: dicts, lists, words and numbers [unit of the value, any]
    Source: the value given
    """
    if isinstance(value, dict):
        return {name: travelling(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [travelling(one) for one in value]
    if not isinstance(value, np.ndarray):
        return value.item() if isinstance(value, np.generic) else value
    whole = value.dtype.kind == "i"
    return {"i16" if whole else "f32": base64.b64encode(value.astype("<i2" if whole else "<f4").tobytes()).decode()}
