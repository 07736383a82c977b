"""Which facts are asked, section by section, what an answer may look like, and when: the table `ASKED`.

Every fact is a key of the one table `fields.FIELDS`. When it is asked follows from what was told so far: what the fish,
the cut or the way of salting rules out is not asked. A section that may be left out stands behind a door (`DOORS`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from flakeyard import limits, refused, tables
from flakeyard.steps.intent.batch_file import SAMPLES
from flakeyard.steps.intent.fields import FIELDS, HEATED, NONE, SOAKS, OneOf
from flakeyard.steps.judge.safety import ends_parasites
from flakeyard.workbook.short_words import NO, YES

ORDER = ("fish", "cut", "brine", "presoak", "rest", "freshen", "heat", "dryer", "room", "keep", "", "measured")


def _always(_here: dict, _batch: dict) -> bool:
    return True


@dataclass(frozen=True)
class Ask:
    """A key that is asked: what an answer may look like in both systems, when it is asked at all, by what its own
    section and the whole batch tell so far, and when it is one of those that few can answer."""

    key: str
    metric: str
    us: str = ""
    when: Callable[[dict, dict], bool] = _always
    more: Callable[[dict, dict], bool] = lambda _here, _batch: False


def _names_no_fish(here: dict, _batch: dict) -> bool:
    return "species" not in here


def _names_fish(here: dict, _batch: dict) -> bool:
    return "species" in here


def _frozen(here: dict, _batch: dict) -> bool:
    return here.get("stock") == "frozen"


def _freezing_counts(key: str) -> Callable[[dict, dict], bool]:
    """Only wild fish has to be frozen against parasites, and not where heat ends them; what is told all the same stays."""
    return lambda here, batch: (
        _frozen(here, batch) and here.get("origin") != "farmed" and (key in here or not _parasites_heated(batch))
    )


def _parasites_heated(batch: dict) -> bool:
    heat = {key: FIELDS["heat"][key].read(told, key) for key, told in batch.get("heat", {}).items()}
    return ends_parasites(heat.get("core"), heat.get("checked") == "probe")


def of_warm_waters(here: dict, _batch: dict) -> bool:
    """Whether the waters decide about this kind of fish."""
    if "species" not in here:
        return False
    record = tables.species(here["species"])
    return len({getattr(refused.of(record, waters), "says", "") for waters in refused.WATERS}) > 1


def _was_warm(here: dict, _batch: dict) -> bool:
    return here.get("hours_above_4c") != 0


def _was_very_warm(here: dict, batch: dict) -> bool:
    """Whether it matters how warm: by the rule only after more than `limits.HOT_ROOM_HOURS`."""
    told = [one for one in (here.get("hours_above_4c"), here.get("hours_above_21c")) if isinstance(one, int | float)]
    return min(told, default=math.inf) > limits.HOT_ROOM_HOURS


def _strips(here: dict, _batch: dict) -> bool:
    return here.get("form") == "strips"


def _cut_open(here: dict, _batch: dict) -> bool:
    return here.get("form") != "whole"


def _both_faces_free(_here: dict, batch: dict) -> bool:
    cut = batch.get("cut", {})
    return cut.get("skin") == "off" and cut.get("form") != "whole"


def _syrup(*before: str) -> Callable[[dict, dict], bool]:
    """A syrup of which none of some keys is told."""
    return lambda here, _batch: _is_syrup(here.get("what")) and not any(key in here for key in before)


def _is_syrup(what: str | None) -> bool:
    return what is not None and tables.ingredient(what).kind == "syrup"


def _from_sugar(here: dict, _batch: dict) -> bool:
    return "recipe_sugar" in here


def _measured(here: dict, _batch: dict) -> bool:
    return "measured_water_activity" in here


def _measured_dried(here: dict, batch: dict) -> bool:
    return _measured(here, batch) or "dried_sample" in batch.get("measured", {})


def _heated(here: dict, _batch: dict) -> bool:
    return here.get("heater") != NONE


def _told(key: str) -> Callable[[dict, dict], bool]:
    return lambda here, _batch: key in here


def _own_water(_here: dict, batch: dict) -> bool:
    return not {"water", "fat"}.isdisjoint(batch.get("fish", {}))


def _salted(_here: dict, batch: dict) -> bool:
    return "brine" in batch or "presoak" in batch


def _weighed(here: dict, _batch: dict) -> bool:
    return any(f"{name}_sample" in here for name in SAMPLES) or "salted_weight" in here


ASKED = {
    "fish": (
        Ask("species", "rainbow trout, farmed"), Ask("water", "74", when=_names_no_fish),
        Ask("protein", "20", when=_names_no_fish), Ask("fat", "6.2", more=_names_fish), Ask("ash", "1.2", when=_names_no_fish),
        Ask("raw_weight", "1.8 kg", "4 lb"), Ask("origin", "farmed"), Ask("waters", "cold or temperate", when=of_warm_waters),
        Ask("stock", "frozen"), Ask("frozen_at", "-20 °C", "-4 °F", _freezing_counts("frozen_at")), Ask("frozen_days", "8", when=_freezing_counts("frozen_days")),
        Ask("thawed_in_vacuum", "no", when=_frozen), Ask("hours_above_4c", "0.5"), Ask("hours_above_21c", "0", when=_was_warm),
        Ask("warmest", "12 °C", "54 °F", _was_very_warm), Ask("gutted", "yes"), Ask("smells_normal", "yes"),
    ),
    "cut": (
        Ask("form", "strips"), Ask("thickness", "6 mm", "1/4 in"), Ask("thinnest", "5 mm", "3/16 in", more=_always),
        Ask("thickest", "8 mm", "5/16 in", more=_always), Ask("width", "25 mm", "1 in", _strips, more=_always), Ask("skin", "off", when=_cut_open),
    ),
    "soak": (Ask("time", "10 h"), Ask("temperature", "3 °C", "37 °F")),
    "ingredient": (
        Ask("what", "pickling salt"), Ask("amount", "160 g", "1/2 cup"), Ask("one_cup_weighs", "312 g", "11 oz", _syrup()),
        Ask("brix", "65", when=_syrup("one_cup_weighs")), Ask("recipe_sugar", "400 g", "2 cup", _syrup("one_cup_weighs", "brix")),
        Ask("recipe_liquid", "240 mL", "1 cup", _from_sugar),
    ),
    "rest": (Ask("time", "12 h"), Ask("temperature", "3 °C", "37 °F")),
    "freshen": (
        Ask("water", "3 L", "3 qt"), Ask("time", "1 h"), Ask("changes", "2"), Ask("temperature", "4 °C", "39 °F"),
    ),
    "heat": (
        Ask("core", "74 °C", "165 °F"), Ask("hold", "1 min"), Ask("checked", "probe"), Ask("to_tray", "10 min"),
        Ask("weight_after", "1.5 kg", "3.3 lb", more=_always),
    ),
    "dryer": (
        Ask("temperature", "63 °C", "145 °F"), Ask("trays", "5"), Ask("tray_area", "30 x 40 cm", "12 x 14 in"),
        Ask("faces", "mesh", when=_both_faces_free), Ask("heater", "500 W"), Ask("fresh_air", "30 m3/h", "18 cfm", _heated, _always),
        Ask("moving", "fan"),
    ),
    "room": (Ask("temperature", "20 °C", "68 °F"), Ask("relative_humidity", "50"), Ask("altitude", "150 m", "500 ft", more=_always)),
    "measured": (
        Ask("composition_error", "0.5", when=_own_water), Ask("thickness_error", "0.3 mm", "1/64 in"),
        Ask("raw_sample", "20 g", "0.7 oz"), Ask("raw_oven_dry", "5.2 g", "0.18 oz", _told("raw_sample")),
        Ask("salted_weight", "1.7 kg", "3.7 lb", _salted), Ask("strip_salt", "5.0", when=_salted),
        Ask("strip_error", "0.5", when=_told("strip_salt")), Ask("laid_sample", "20 g", "0.7 oz"),
        Ask("laid_oven_dry", "6.4 g", "0.22 oz", _told("laid_sample")), Ask("dried_sample", "20 g", "0.7 oz"),
        Ask("dried_oven_dry", "12.5 g", "0.44 oz", _told("dried_sample")), Ask("scale_step", "1 g", "0.1 oz", _weighed),
    ),
    "keep": (
        Ask("place", "refrigerator"), Ask("wanted_days", "30"), Ask("pack", "glass jar"), Ask("per_pack", "150 g", "5 oz", more=_always),
        Ask("measured_water_activity", "0.78", more=_always), Ask("measured_error", "0.01", when=_measured, more=_always),
        Ask("measured_by", "meter", when=_measured, more=_always), Ask("measured_at", "0.44", when=_measured_dried, more=_always),
    ),
    "": (Ask("serving", "30 g", "1 oz", more=_always), Ask("title", "First evening", more=_always)),
}  # fmt: skip
BY_HAND = {  # keys that are not asked, with the message that says why
    ("keep", "target_moisture"): "by_hand.moisture", ("keep", "stop_at"): "by_hand.stop",
    **dict.fromkeys((("air", key) for key in FIELDS["air"]), "by_hand.air"), ("dryer", "rotated"): "by_hand.rotated",
    ("presoak", "method"): "by_hand.method", ("brine", "method"): "by_hand.method",
}  # fmt: skip


def _doors() -> dict[str, OneOf]:
    """Sections that may be left out, with the words that open or close them; a soak is opened by its method."""
    words = dict.fromkeys(("rest", "freshen", "heat", "measured"), (YES, NO))
    return {name: replace(FIELDS[name]["method"], words=(*FIELDS[name]["method"].words, NO)) for name in SOAKS} | {
        name: OneOf(told, also={YES: HEATED} if name == "heat" else {}) for name, told in words.items()
    }


DOORS = _doors()
AFTER_HEAT = ("fish.frozen_at", "fish.frozen_days")  # asked when it is known whether heat makes them needless
AFTER_SALT = ("rest", "freshen")  # sections that only salted fish can have
