"""Fetch one file over HTTP, going on where an earlier attempt was cut off."""

from __future__ import annotations

import http.client
import logging
import re
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicelist.errors import MissingPart

# (what is being done, bytes so far, bytes in all if known)
Report = Callable[[str, int, int | None], None]

_PIECE = 256 * 1024
_TIMEOUT_S = 30.0
_ATTEMPTS = 5
_NOTHING_TO_ADD = 416

_log = logging.getLogger(__name__)


class _CutOffError(Exception):
    """The transfer ended early; what came so far is kept."""


@dataclass(frozen=True, slots=True)
class Download:
    """`address` to be fetched to `part`, whose present bytes are kept where the server allows."""

    address: str
    part: Path
    what: str
    pause_s: float = 1.0

    def run(self, report: Report) -> None:
        """Fetch all of it. Raises MissingPart when the server refuses or the line keeps failing."""
        self.part.parent.mkdir(parents=True, exist_ok=True)
        for attempt in range(1, _ATTEMPTS + 1):
            try:
                return self._go_on(report)
            except urllib.error.HTTPError as error:
                if error.code < 500:
                    raise MissingPart(self._sentence(f"the server says {error.code}")) from error
                reason = f"the server says {error.code}"
            except (OSError, http.client.HTTPException, _CutOffError) as error:
                reason = str(error) or type(error).__name__
            _log.info("%s: attempt %d: %s", self.what, attempt, reason)
            if attempt < _ATTEMPTS:
                time.sleep(self.pause_s * attempt)
        raise MissingPart(self._sentence(reason))

    def _sentence(self, reason: str) -> str:
        return (
            f"{self.what[:1].upper()}{self.what[1:]} could not be fetched ({reason}); "
            "check the network and run the command again: it goes on where it stopped."
        )

    def _go_on(self, report: Report) -> None:
        have = self.part.stat().st_size if self.part.exists() else 0
        request = urllib.request.Request(self.address)
        if have:
            request.add_header("Range", f"bytes={have}-")
        try:
            with urllib.request.urlopen(request, timeout=_TIMEOUT_S) as answer:
                start, total = _extent(answer, have)
                self._copy(answer, start, total, report)
        except urllib.error.HTTPError as error:
            whole = _total_of_range(error.headers.get("Content-Range"))
            if error.code != _NOTHING_TO_ADD or not have:
                raise
            if whole != have:
                self.part.unlink()
                raise _CutOffError("what was kept does not fit; starting again") from error

    def _copy(
        self, answer: http.client.HTTPResponse, start: int, total: int | None, report: Report
    ) -> None:
        done = start
        with self.part.open("r+b" if start else "wb") as file:
            file.seek(start)
            file.truncate()
            while piece := answer.read(_PIECE):
                file.write(piece)
                done += len(piece)
                report(self.what, done, total)
        if total is not None and done < total:
            raise _CutOffError(f"the line was cut after {done} of {total} bytes")


def _extent(answer: http.client.HTTPResponse, have: int) -> tuple[int, int | None]:
    """Where the answer's bytes begin and how many there are in all; 0 when it starts again."""
    length = answer.headers.get("Content-Length")
    if answer.status == 206:
        begins = re.match(r"bytes (\d+)-", answer.headers.get("Content-Range", ""))
        if begins is not None and int(begins[1]) == have:
            return have, _total_of_range(answer.headers.get("Content-Range"))
        raise _CutOffError("the server sent another part than was asked for")
    return 0, int(length) if length else None


def _total_of_range(header: str | None) -> int | None:
    total = re.search(r"/(\d+)$", header or "")
    return int(total[1]) if total else None
