"""What a machine can be set to, beside what it is set to: the ends of a dial are no setting."""

from __future__ import annotations

import re

DEGREES = r"(?<![\w.,/])[0-9]{2,3} ?(?:°|degrees?\b|deg\b)? ?"
ENDS = re.compile(  # the two ends of what a machine can be set to
    rf"(?:\bfrom )?(?P<low>{DEGREES})(?:[cf]\b)? ?(?:to|till|until|up to|-|–) ?(?P<high>{DEGREES})(?P<unit>[cf]\b)?"
    r"(?![0-9/%\"x×]| ?(?:x|h|hours?|hrs?|min\w*|w|watts?|mm|cm|in|inch\w*|trays?|racks?|lbs?|kg|g)\b)"
)
AT_MOST = re.compile(rf"\b(?:goes?|dial|knob|can do|gets?|only)(?: \w+)? up to (?P<high>{DEGREES})(?P<unit>[cf]\b)?")
ALL_IT_DOES = re.compile(
    rf"(?P<high>{DEGREES})(?P<unit>[cf]\b)?[,;]? ?(?:(?:and )?(?:that's|thats|that is|which is|is) )?"
    r"(?:all (?:that )?it (?:goes|does|can|gets)|as (?:hot|high|far) as it (?:goes|gets)|(?:the|its) (?:max\w*|most|hottest|highest|top)\b|max\b|maximum\b)"
)
TOPS = re.compile(
    rf"\b(?:max(?:imum)?(?: is| of|:)?|tops out at|only goes to|goes only to|no (?:hotter|higher) than|at most) (?P<high>{DEGREES})(?P<unit>[cf]\b)?"
)
SET_SO = re.compile(
    r"\b(?:i|we) (?:run|set|use|keep|put|have|dry)\b|\bset (?:it )?(?:to|at)\b|\bat [0-9]|\b(?:say|call it)\b"
)
GOES = re.compile(r"\b(?:goes?|rang\w*|adjust\w*|dial|knob|between|from)\b[^,.;]*$")  # right before the ends
SET_TO = re.compile(rf"(?:{SET_SO.pattern})[^,.;]*?{DEGREES}|{DEGREES}[^,.;]*(?:{SET_SO.pattern})")


def without_the_ends(said: str) -> str:
    """An answer without the two ends of a dial, where a setting is told beside them; else the answer."""
    found = ENDS.search(said)
    if not found:
        return said
    rest = said[: found.start()] + "," + said[found.end() :]
    return rest if GOES.search(said[: found.start()]) and SET_TO.search(rest) else said
