"""Small neural models on the processor, in little memory."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any


def frugal_session(model: Path | str, *, prepacked: bool = True) -> Any:
    """One thread, and no arena, which would keep the memory of the longest input for good. Not
    `prepacked` it takes a few milliseconds more each time, and far less memory.

    The runtime is imported now, not before: it takes time and memory.
    """
    onnxruntime: Any = importlib.import_module("onnxruntime")
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.enable_cpu_mem_arena = options.enable_mem_pattern = False
    options.log_severity_level = 3
    if not prepacked:
        options.add_session_config_entry("session.disable_prepacking", "1")
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
