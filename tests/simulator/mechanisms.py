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
SALT_SLOWING = 9.0  # D is divided by 1 + this × salt per kg of piece; invented, near the published trout rows
