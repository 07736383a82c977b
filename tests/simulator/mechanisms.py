"""What may make a simulated batch unlike a plain one. Each can be switched on alone; all are on by default."""

MECHANISMS = {
    # the dryer
    "dial": "the air is some kelvin off what the dial says",
    "thermostat": "a thermostat with hysteresis warms the box up and then switches off and on",
    "heater": "the heater gives no more than its watts",
    "stream": "little air passes over one tray after another, cools, moistens, and partly goes round again",
    "uneven": "the fan blows more or less than usual, and unevenly over the trays",
    "weather": "the room is not quite as typed, and drifts over the day",
    # the fish
    "fish": "this fish, its cure and cook-out are not the middle of all fish",
    "sizes": "pieces of a tray are of log-normal thickness, trays unevenly full, the ruler reads whole millimetres",
    "salt slowing": "salt slows the water in the flesh",
    "crust": "a dry surface resists",
    "blocked": "the tray blocks part of the lower face",
    "edges": "strips dry at their edges too",
    "drip and oil": "some juice drips off and some oil runs out",
    # the kitchen
    "mark": "the marked piece is thicker or thinner than it was taken for, and lies in a warmer or windier place",
    "scale": "the scale has a coarse step, a gain and a tare error, and drifts",
    "wet trays": "trays are weighed with drops on them at first",
    "clock": "times are noted up to a quarter of an hour off, in quarter hours",
    "outside": "the fish is out of the dryer for some minutes at each weighing",
    "swaps": "trays are swapped or rotated, sometimes without a note",
    "turned": "the dial is turned, sometimes without a note",
    "door": "the door stands open for a while, without a note",
    "pause": "the fish spends a night in the refrigerator, noted",
    "habit": "only the trays are weighed, or only the marked piece and one tray",
}
ALL = tuple(MECHANISMS)
DRYER = ("dial", "thermostat", "heater", "stream", "uneven")  # what stays from batch to batch
EVEN_PLACE = {"film at the marked piece": 1.0, "marked piece warmer": 0.0}
LIKE_OTHERS = {"film at the marked piece": 1.0, "marked piece thicker": 1.0}
SALT_SLOWING = 9.0  # D is divided by 1 + this × salt per kg of piece; invented, near the published trout rows

HARD = {
    # of each: the mechanisms that are on, what is settled of them (see `kitchen.Evening`), and the kinds, if not all
    "marked piece 20 % thicker": (("mark",), {"settled": {"marked piece thicker": 1.20} | EVEN_PLACE}),
    "marked piece 15 % thinner": (("mark",), {"settled": {"marked piece thicker": 0.85} | EVEN_PLACE}),
    "marked piece 6 K warmer": (("mark",), {"settled": LIKE_OTHERS | {"marked piece warmer": 6.0}}),
    "marked piece 6 K cooler": (("mark",), {"settled": LIKE_OTHERS | {"marked piece warmer": -6.0}}),
    "scale drifts up 2 g an hour": (("scale",), {"settled": {"drift": 2.0}}),
    "scale drifts down 2 g an hour": (("scale",), {"settled": {"drift": -2.0}}),
    "clock late, trays wet": (("clock", "wet trays"), {"settled": {"start noted late": 0.25}}),
    "clock early, trays wet": (("clock", "wet trays"), {"settled": {"start noted late": -0.25}}),
    "nothing but the law": ((), {}),
    "dial turned down 15 K, not noted": ((), {"turned": -15.0}),
}
