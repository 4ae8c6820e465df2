"""Words of caution that go with every page, whatever the findings are."""

from __future__ import annotations

NOT_MEDICAL = (
    "This describes how a stroke looks from the side. It is not medical advice, and it says "
    "nothing about anybody's risk of injury."
)

STOP_AND_SEE = (
    "Pain, numbness, weakness in a leg, or any change of bladder or bowel: stop rowing and see a "
    "clinician."
)

CONTEXT = "What studies measured in rowers is shown as context, never as a verdict."

MINORS = (
    "Filming young athletes: tell them and their parents what it is for, have the written consent "
    "of both, keep it safe, delete it when done or when asked to, and follow the rules of your "
    "club and governing body and the law."
)

STAYS_HERE = (
    "The clip, and everything made from it, stays on this machine: nothing is sent anywhere."
)

#: All of them, in the order in which a page shows them.
ALL = (NOT_MEDICAL, STOP_AND_SEE, CONTEXT, MINORS, STAYS_HERE)
