"""The display's own words. Calm, for the patient is awake; none of them answers anything."""

from __future__ import annotations

BECAME = {
    "recorded": "recorded",
    "reported": "reported",
    "later": "left for later",
    "not-applicable": "recorded: does not apply",
    "noted": "noted",
    "read-back": "read back",
    "asked-again": "asked again",
    "waits": "waits on the display",
    "not-taken": "not taken",
    "not-for-us": "talk, passed over",
    "taken-back": "taken back",
    "paused": "paused",
    "goes-on": "goes on",
    "kept": "recorded",
    "replied": "replied to",
    "heard": "heard",
}
TALK = "(talk)"
SOMETHING = "(an answer)"
OPEN_BECAUSE = {
    "said-fault": "reported, stays open",
    "deferred": "left for later",
    "waiting": "waits for an answer",
    "called": "asked",
    "noted": "begun",
}
# In place of a read-back where the patient may read along.
DISCREET_READ_BACK = {
    "mismatch": "Please check again, and answer.",
    "digits": "Please confirm the number.",
    "echo": "Surgeon, please confirm.",
    "details": "Please go on.",
    "choice": "Please confirm.",
    "sign": "Plus or minus, please.",
    "negation": "Please answer once more.",
    "short-answer": "Please confirm.",
    "missing": "Settings, please: some are still needed.",
}
DISCREET_OTHER = "Please confirm."
DISCREET_OPEN = "open"
DISCREET_MISMATCH = "to be checked again"
ENDED = {
    "completed": "All items were asked. The record is kept.",
    "stopped": "Stopped before the end. The record is kept.",
    "abandoned": "Ended unfinished. The record is kept.",
}
# Under way, before a milestone is told.
NOTHING_ASKED = "Nothing is asked now"
AS_TOLD = "as told"
NOBODY = ""
