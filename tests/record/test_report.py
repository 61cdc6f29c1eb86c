"""The report: whole in itself, safe, in the right order, and never to be taken for more."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest
from cases import DOCUMENTS, keep, opened, whole_case

from voicelist.record.exports import export
from voicelist.record.journal import Entry
from voicelist.record.store import Store
from voicelist.record.timeline import PLOT_FROM, PLOT_TO, timeline
from voicelist.record.view import case_view
from voicelist.record.words import CAUTION, PRACTICE_BANNER, hash_words
from voicelist.session.records import Answered, Called, Heard, Said

Entries = tuple[Entry, ...]
VOID = {"meta", "col"}


class Page(HTMLParser):
    """A strict reading: every tag has to be closed in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self._open: list[str] = []
        self.feed(page)
        self.close()
        assert self._open == [], "tags left open"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self._open or self._open[-1] != "style":
            self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.texts).split())

    def attributes(self) -> Iterator[tuple[str, str, str]]:
        for tag, attributes in self.tags:
            for name, value in attributes.items():
                yield tag, name, value or ""


def _html(entries: Entries) -> str:
    return export(entries, "html").decode()


def test_the_page_is_well_formed(two_runs: Entries, practice_case: Entries) -> None:
    for entries in (two_runs, practice_case):
        assert Page(_html(entries)).tags[0][0] == "html"


def test_nothing_comes_from_elsewhere_and_nothing_runs(two_runs: Entries) -> None:
    html = _html(two_runs)
    page = Page(html)
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "form", "base"}
    for tag, name, value in page.attributes():
        assert not name.startswith("on"), (tag, name)
        if name in {"href", "src", "xlink:href", "action"}:
            assert value.startswith("#"), (tag, name, value)
    assert not re.search(r"url\(|@import|https?:|//[a-z]", html)


def test_every_sign_that_is_used_is_drawn(two_runs: Entries) -> None:
    page = Page(_html(two_runs))
    drawn = {value for _, name, value in page.attributes() if name == "id"}
    used = {value[1:] for _, name, value in page.attributes() if name == "href"}
    assert used
    assert used <= drawn


def test_what_matters_comes_first(two_runs: Entries) -> None:
    text = Page(_html(two_runs)).text
    head = hash_words(two_runs[-1].hash)
    parts = (
        "Cataract surgery by phacoemulsification",
        "Case case-12",
        head,
        CAUTION,
        "First to be read",
        "expected 32 cc/min: accepted at 08:0",
        "not asked counts",
        "Settled, and what else happened",
        "heard 500 mmHg, expected 350 mmHg: said anew at 08:0",
        'reported not right, "bottle low", circulating nurse (by channel): answered anew',
        '"reflux control found" (said done): taken back',
        "In numbers",
        "The lines",
        "“irrigation line firm”",
        "Over time",
        "Every event",
        "To check it",
    )
    places = [text.index(part) for part in parts]
    assert places == sorted(places)
    assert text.rindex(head) > places[-1], "the head stands at the top and at the bottom"


def test_items_not_asked_are_named_as_such(two_runs: Entries) -> None:
    text = Page(_html(two_runs)).text
    assert text.count("not asked counts") == 1, "in the list of what is first to be read"
    assert "counts not asked" in text


def test_every_part_of_a_practice_report_says_so(practice_case: Entries) -> None:
    html = _html(practice_case)
    parts = html.count('<section class="part"')
    assert parts > 5
    assert html.count(f'<p class="practice-tag">{PRACTICE_BANNER}</p>') == parts
    assert f"<title>{PRACTICE_BANNER}" in html
    head = html[html.index('<header class="running-head">') : html.index("</header>")]
    foot = html[html.index('<footer class="running-foot">') : html.index("</footer>")]
    assert PRACTICE_BANNER in head, "repeated on every printed page"
    assert PRACTICE_BANNER in foot


def test_a_quiet_case_says_that_nothing_stands_out(store: Store) -> None:
    items = [item for part in DOCUMENTS["checklist"]["sections"] for item in part["items"]]
    records = [
        one
        for item in items
        for one in (Called(item["id"], item["call"]), Answered(item["id"], "said-done", "so it is"))
    ]
    text = Page(_html(keep(store, "case-1", (opened(), *records)))).text
    assert "No mismatch, nothing reported not right" in text


EVIL = "<script>alert(1)</script>\"'&"


def test_whatever_documents_and_people_say_stays_text(store: Store) -> None:
    item = {"id": "evil", "name": EVIL, "call": EVIL, "stop": True, "answered by": ["surgeon"]}
    documents = {
        "checklist": {
            "id": EVIL,
            "title": EVIL,
            "sections": [{"id": "s", "name": EVIL, "items": [item]}],
        },
        "card": {"id": EVIL},
        "plan": {"eye": EVIL, "lens": {"model": EVIL}},
    }
    records = (
        opened("typed", documents),
        *whole_case()[1:],
    )
    evil = (
        Called("evil", EVIL),
        Said(EVIL, 1.0, EVIL),
        Heard("voice", "not-understood", EVIL, why=EVIL),
        Answered("evil", "said-fault", EVIL, EVIL, EVIL, {EVIL: EVIL}, {EVIL: EVIL}),
    )
    entries = keep(store, EVIL[:20], (records[0], *evil, *records[1:]))
    html = _html(entries)
    page = Page(html)
    assert "script" not in {tag for tag, _ in page.tags}
    assert "<script" not in html
    assert page.text.count("alert(1)") > 5, "it is shown all the same"


def test_the_log_holds_every_event_and_is_folded_away(two_runs: Entries) -> None:
    html = _html(two_runs)
    folded = html[html.index("<details>") : html.index("</details>")]
    assert folded.count("<tr>") == len(two_runs) + 1
    for entry in two_runs:
        assert f"<td>{entry.at[11:23]}</td><td>{entry.kind}</td>" in folded


def test_words_of_other_talk_are_in_no_export(store: Store) -> None:
    entries = keep(store, "case-1", (opened(), Heard("voice", "not-for-us")))
    assert "its words are not kept" in _html(entries)


def test_what_the_other_channel_heard_is_shown_as_not_taken(store: Store) -> None:
    times = {"start_s": 1.0, "end_s": 2.0, "decided_s": 2.3}
    taken = Heard("voice", "understood", "bottle full", channel=0, **times)
    beside = Heard("voice", "not-taken", "bottle full", why="nearer there", channel=1, **times)
    talk = Heard("voice", "not-taken", why="nearer there", channel=1, **times)
    entries = keep(store, "case-1", (opened(), beside, talk, taken))
    html = _html(entries)
    assert "&#34;bottle full&#34;; not taken: nearer there; voice" in html
    assert "<td>not taken: nearer there; voice" in html
    (panel,) = timeline(case_view(entries), entries)
    (heard,) = (row for row in panel.tracks if row.label == "heard for the checklist")
    assert len(heard.bars) == 1


def test_each_run_has_an_axis_of_its_own_with_its_unit(two_runs: Entries) -> None:
    first, second = timeline(case_view(two_runs), two_runs)
    assert (first.unit, second.unit) == ("seconds", "seconds")
    for panel in (first, second):
        assert panel.ticks[0] == (PLOT_FROM, "0")
        rows = (*panel.items, *panel.tracks)
        places = [x for row in rows for x in (*row.calls, *(mark.x for mark in row.marks))]
        assert all(PLOT_FROM <= x <= PLOT_TO for x in places)
    assert [row.label for row in second.items] == ["reflux"]
    assert _html(two_runs).count('class="drawing"') == 2
    assert "seconds since the run began" in _html(two_runs)


def test_a_long_run_is_drawn_in_minutes(store: Store) -> None:
    calls = [Called("bottle", "Full or low?") for _ in range(200)]
    entries = keep(store, "case-1", (opened(), *calls))
    (panel,) = timeline(case_view(entries), entries)
    assert panel.unit == "minutes"
    assert 3 <= len(panel.ticks) <= 11
    assert [label for _, label in panel.ticks][:3] == ["0", "1", "2"]


def test_signs_stand_where_their_events_were(stopped_case: Entries) -> None:
    (panel,) = timeline(case_view(stopped_case), stopped_case)
    span_ms = stopped_case[-1].mono_ms
    bottle = next(row for row in panel.items if row.label == "the bottle")
    fault, cleared = (
        entry
        for entry in stopped_case
        if entry.kind == "answered" and entry.body["item"] == "bottle"
    )
    width = PLOT_TO - PLOT_FROM
    for mark, entry, shape in zip(
        bottle.marks, (fault, cleared), ("said-fault", "said-done"), strict=True
    ):
        assert mark.shape == shape
        assert mark.x == pytest.approx(PLOT_FROM + width * entry.mono_ms / span_ms, abs=0.1)


def test_a_recording_is_drawn_on_its_sample_time(store: Store) -> None:
    heard = Heard("voice", "understood", "bottle full", start_s=30.0, end_s=31.0, decided_s=40.0)
    records = (opened("recording"), Called("bottle", "Full or low?"), Said("Full or low?", 2.0))
    entries = keep(
        store, "case-1", (*records, heard, Answered("bottle", "said-done", "bottle full"))
    )
    (panel,) = timeline(case_view(entries), entries)
    assert [row.label for row in panel.tracks] == ["heard for the checklist"]
    (bar,) = panel.tracks[0].bars
    width = PLOT_TO - PLOT_FROM
    assert bar.x == pytest.approx(PLOT_FROM + width * 30 / 40, abs=0.1)
    assert bar.width == pytest.approx(width / 40, abs=0.1)
    html = _html(entries)
    assert "sample time: seconds into the sound" in html
    assert "minutes and seconds into the sound" in html
