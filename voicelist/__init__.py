"""voicelist: an offline, speech-driven checklist assistant for a cataract theatre.

Each folder holds one part of the house and says in its own first lines what may be imported from
where. An aid to memory and record keeping, not a medical device: local policy, the device maker's
instructions and licensed professionals decide.
"""

import os

# The neural run-time (onnxruntime) reports its use to its maker over the network, unless this is
# there when it is loaded; its own call to stop that comes too late. Here no import of ours comes
# earlier, in no process, and the processes that we start inherit it.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

__version__ = "0.1.0"

CAUTION = (
    "An aid to memory and record keeping, not a medical device. Local policy, the device maker's "
    "instructions and licensed professionals decide."
)
