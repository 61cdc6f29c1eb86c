"""voicelist: an offline, speech-driven checklist assistant for a cataract theatre.

Each folder holds one part of the house and says in its own first lines what may be imported from
where. An aid to memory and record keeping, not a medical device: local policy, the device maker's
instructions and licensed professionals decide.
"""

__version__ = "0.1.0"

CAUTION = (
    "An aid to memory and record keeping, not a medical device. Local policy, the device maker's "
    "instructions and licensed professionals decide."
)
