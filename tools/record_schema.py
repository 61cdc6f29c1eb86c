"""Makes `voicelist/record/record.schema.json` anew: `python tools/record_schema.py`."""

from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from voicelist.record import schema

FILE = Path(schema.__file__).with_name("record.schema.json")


def text() -> str:
    """What the file has to hold."""
    return json.dumps(schema.record_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
    print(f"Written: {FILE}")
