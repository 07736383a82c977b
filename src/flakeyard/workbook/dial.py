"""What a machine can be set to, beside what it is set to: the ends of a dial are no setting, nor what it cannot be set to, nor
a word where a dial has no degrees."""

from __future__ import annotations

import re

from flakeyard import spoken

DEGREES = r"(?<![\w.,/])[0-9]{2,3} ?(?:°|degrees?\b|deg\b)? ?"
ENDS = re.compile(  # the two ends of what a machine can be set to
    rf"(?:\bfrom )?(?P<low>{DEGREES})(?:[cf]\b)? ?(?:to|till|until|up to|-|–) ?(?P<high>{DEGREES})(?P<unit>[cf]\b)?"
    r"(?![0-9/%\"x×]| ?(?:x|h|hours?|hrs?|min\w*|w|watts?|mm|cm|in|inch\w*|trays?|racks?|lbs?|kg|g)\b)"
)
AT_MOST = re.compile(
    rf"\b(?:(?:goes?|dial|knob|can do|gets?|only)(?: \w+)? up to|(?:it|which|that|dial|knob|dryer|dehydrator|oven) goes to) (?P<high>{DEGREES})(?P<unit>[cf]\b)?"
)
ALL_IT_DOES = re.compile(
    rf"(?P<high>{DEGREES})(?P<unit>[cf]\b)?[,;]? ?(?:(?:and )?(?:that's|thats|that is|which is|is) )?"
    r"(?:all (?:that )?it (?:goes|does|can|gets)|as (?:hot|high|far) as it (?:goes|gets)|(?:the|its) (?:max\w*|most|hottest|highest|top)\b|max\b|maximum\b)"
)
TOPS = re.compile(
    rf"\b(?:max(?:imum)?(?: is| of|:)?|tops out at|only goes to|goes only to|no (?:hotter|higher) than|at most|(?:can't|cannot|won't|doesn't|does not) (?:\w+ ){{0,2}}(?:above|over|past|beyond|(?:hotter|higher|more) than)) (?P<high>{DEGREES})(?P<unit>[cf]\b)?"
)
UP_TO = re.compile(rf"\bup to {DEGREES}(?:[cf]\b)?")
SET_SO = re.compile(
    r"\b(?:i|we)(?:'d|'ll| would| will)? (?:run|set|use|keep|put|have|dry)\b|\bset (?:it )?(?:to|at)\b|\bat [0-9]|\b(?:say|call it)\b"
)
GOES = re.compile(r"\b(?:goes?|rang\w*|adjust\w*|dial|knob|between|from)\b[^,.;]*$")  # right before the ends
SET_TO = re.compile(rf"(?:{SET_SO.pattern})[^,.;]*?{DEGREES}|{DEGREES}[^,.;]*(?:{SET_SO.pattern})")


LEVEL = r"(?:low(?:est)?|med(?:ium)?|high(?:est)?)"  # a word on a dial
CANNOT = re.compile(  # be set to
    rf"\b(?:can't|can not|cannot|couldn't|won't|will not|doesn't|does not|unable to|not able to)(?: \w+){{0,5}}? {DEGREES}(?:[cf]\b)?"
)
DIAL = re.compile(
    r"\b(?:number|no\.|mark|setting|level|notch|step) ?(?:10|[1-9])(?![0-9.,])(?! ?°| ?[cf]\b)(?: (?:out )?of [0-9]+)?\b"
)  # no degrees
NO_DEGREES = re.compile(
    r"\b(?:no|not any|without(?: any)?|(?:doesn't|does not) (?:have|show|say)(?: any)?|hasn't(?: got)?(?: any)?) (?:degrees?|numbers?|temperatures?)\b"
    rf"|\b{LEVEL}(?:,|,? or|,? and|/|-)? ?{LEVEL}\b|\b(?:on|at|to|take|use|pick|choose|setting) (?:the )?{LEVEL}\b(?! (?:shelf|rack))"
    rf"|^(?:(?:about|maybe|the) )?{LEVEL}(?: setting| heat)?$"
    rf"|\bhow (?:hot|warm) (?:(?:it|that|this|the \w+|{LEVEL}) (?:gets?|is|runs?)|(?:is|does|do) (?:it|that|{LEVEL})\b)"
    rf"|^(?!.*[0-9]).*\b(?:dial|knob|setting|switch)\b|{DIAL.pattern}|\bnumbers? (?:from )?[0-9] ?(?:to|-|–) ?(?:10|[1-9])\b"
)
NO_DRYER = re.compile(
    r"\b(?:no (?:dryer|dehydrator|machine)|hang\w*|hung|shed|barn|attic|outside|outdoors|wind|sun\w*|solar)\b"
)
WARMTH = re.compile(  # a number that may be degrees
    r"(?<![\w.,/-])[0-9]{2,3}(?![0-9.,/]?[0-9]| ?(?:%|x|×|w\b|watts?|cm\b|mm\b|in\b|inch|h\b|hours?|hrs|min|trays?|racks?|kg|lbs?|g\b))"
)


def without_the_ends(said: str) -> str:
    """An answer without the two ends of a dial, or its top, where a setting is told beside them; else the answer."""
    for found in filter(None, (one.search(said) for one in (ENDS, AT_MOST, TOPS, UP_TO))):
        rest = said[: found.start()] + "," + said[found.end() :]
        if SET_TO.search(rest) and (found.re is not ENDS or GOES.search(said[: found.start()])):
            return rest
    return said


def without_the_refused(said: str) -> str:
    """An answer without the degrees that a machine cannot be set to."""
    digits = spoken.numbers(said)
    return CANNOT.sub(" ", digits) if CANNOT.search(digits) else said


def only_refused(said: str) -> bool:
    """Whether an answer says to what a machine cannot be set, and nothing that it may be set to."""
    rest = without_the_refused(said)
    return rest != said and not WARMTH.search(rest)


def has_no_degrees(said: str) -> bool:
    """Whether an answer tells of a dial without degrees, and tells no degrees itself."""
    said = without_the_refused(spoken.numbers(said))
    return bool(NO_DEGREES.search(said)) and not (NO_DRYER.search(said) or WARMTH.search(DIAL.sub(" ", said)))
