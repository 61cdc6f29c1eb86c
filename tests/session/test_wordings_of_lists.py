"""What a team would say to the items of the shipped lists. The lines are invented."""

from __future__ import annotations

from functools import cache

import pytest

from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_rules
from voicelist.documents.loading import load_checklist
from voicelist.grammar.ruleset import RuleSet
from voicelist.places import shipped
from voicelist.session.natural import Natural
from voicelist.understanding.plain_speech import Amounts

LISTS = shipped("grammars") / "checklists"


@cache
def natural(name: str) -> Natural:
    path = LISTS / f"{name}.yaml"
    checklist = load_checklist(path).document
    rules = RuleSet.from_texts(load_rules(Shelves.beside(path))[0].items())
    return Natural({item.id: item for _, item in checklist.all_items()}, rules, {})


GOOD = (Amounts.FULL, Amounts.SHORT, Amounts.LOOSE)


@pytest.mark.parametrize("name", sorted(path.stem for path in LISTS.glob("*.yaml")))
def test_every_item_says_what_it_is_about_but_for_what_needs_its_figures(name: str) -> None:
    read = natural(name)
    lacking = {one for one, item in read.items.items() if item.thing is None}
    # The sticker's figures are noted: no other words may stand for them.
    assert {one for one in lacking if read.items[one].compare != "profile"} <= {"implant-label"}


@pytest.mark.parametrize(
    ("name", "item", "words"),
    [
        ("phaco-full", "chamber-kept", "the chamber is formed"),
        ("phaco-full", "cutter", "yes it's primed and tested"),
        ("phaco-full", "lower-bottle", "i've lowered the bottle"),
        ("phaco-turnover", "hooks", "the hooks are on the tray"),
        ("phaco-turnover", "power-paused", "my foot is off the pedal"),
        ("phaco-turnover", "both-lines", "i've followed both lines"),
        ("phaco-full", "wound-leak", "the leak's tiny"),
        ("phaco-full", "comfort", "she's comfortable"),
        ("phaco-turnover", "tip", "the tip is tight and the sleeve is straight"),
        ("phaco-turnover", "flow-path", "bottle's full and the flow path is primed"),
        ("phaco-turnover", "identity", "identity consent and mark are all clear"),
        ("phaco-full", "closed-eye", "the wound's sealed and the viscoelastic is out"),
        ("injection", "infection", "the lids are clean and quiet"),
        ("injection", "sharps", "in the sharps bin"),
        ("briefing", "list-order", "the order's agreed"),
        ("briefing", "patients", "no special needs today"),
        ("debriefing", "stock", "we've ordered the stock"),
    ],
)
def test_what_people_would_say_is_understood(name: str, item: str, words: str) -> None:
    read = natural(name)
    about = read.about(item)
    assert about is not None
    assert read.answers.read(tuple(words.split()), about) in GOOD


@pytest.mark.parametrize(
    ("name", "item", "words"),
    [
        ("phaco-turnover", "tip", "the tip is tight"),
        ("phaco-turnover", "tip", "the tip is tight but the sleeve is twisted"),
        ("phaco-turnover", "flow-path", "the bottle is full"),
        ("phaco-turnover", "identity", "identity and consent are confirmed"),
        ("phaco-turnover", "lens-match", "printout and box are alike"),
        ("phaco-full", "closed-eye", "the wound is sealed"),
        ("phaco-full", "shield", "drops are in"),
        ("phaco-full", "new-instruments", "the instruments are new"),
        ("phaco-turnover", "cutter", "the cutter is coming"),
        ("phaco-full", "power-paused", "ultrasound is still on"),
        ("injection", "vial", "the vial is intact"),
        ("injection", "numbing", "nearly numb"),
        ("briefing", "lenses", "the lenses are here"),
        ("debriefing", "events", "there were events to report"),
    ],
)
def test_half_an_answer_or_the_other_state_is_none(name: str, item: str, words: str) -> None:
    read = natural(name)
    about = read.about(item)
    assert about is not None
    assert read.answers.read(tuple(words.split()), about) not in GOOD
