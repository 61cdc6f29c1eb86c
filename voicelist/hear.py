"""`voicelist hear`: what would be understood, on the very path that a session uses."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicelist.asr.decoder import DecoderHere
from voicelist.asr.model import find_model
from voicelist.asr.offline import decode_blocks, decode_whole, past_of
from voicelist.asr.recogniser import Recogniser
from voicelist.asr.streaming import ChannelStream
from voicelist.asr.utterance import DecodedUtterance
from voicelist.asr.verifier import VerifierOnCall
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.sound_files import look_through, read_sound
from voicelist.documents.finding import Shelves
from voicelist.documents.joining import load_lexicon_beside, load_rules, with_roles
from voicelist.documents.loading import load_checklist, sniff_kind
from voicelist.documents.phone_table import sound_alikes
from voicelist.documents.text_file import read_text
from voicelist.errors import DocumentError, Problem, UsageError, VoicelistError
from voicelist.grammar.abnf import parse_rules
from voicelist.grammar.grammar import Grammar
from voicelist.grammar.ruleset import RuleSet
from voicelist.grammar.syntax import Node, PhrasePlace, Reference
from voicelist.session.case import ANYTIME, is_harmless, item_phrases
from voicelist.understanding.context import Context
from voicelist.understanding.decision import decide
from voicelist.understanding.interpretation import NotForUs, Understanding, Understood
from voicelist.understanding.phrase_lists import HearingGrammar, hearing_grammar
from voicelist.understanding.policy import POLICY
from voicelist.understanding.questions import Decoder, NoDecoder
from voicelist.understanding.room_words import Room

# Each file heard at the same time as others takes some tens of MB.
_AT_ONCE_AT_MOST = 4


@dataclass(frozen=True, slots=True)
class Listening:
    """A grammar made ready to hear with."""

    context: Context
    grammar: HearingGrammar
    recogniser: Recogniser
    verifier: VerifierOnCall


def prepare(grammar_file: Path, item: str | None) -> Listening:
    """From an ABNF file or a checklist; `item` limits what is permitted to one item."""
    model = find_model()
    recogniser = Recogniser(wide_search_model(model))
    context = context_for(grammar_file, item)
    words = context.grammar.vocabulary() | context.room.words()
    known = frozenset(word for word in words if recogniser.vocabulary_has(word))
    hearing = hearing_grammar(context.grammar, context.room, known, plain=is_harmless)
    return Listening(context, hearing, recogniser, VerifierOnCall())


def context_for(grammar_file: Path, item: str | None) -> Context:
    """What may be said under a grammar file."""
    if grammar_file.suffix == ".abnf":
        if item is not None:
            raise UsageError("--item limits a checklist; an ABNF file has no items.")
        return _abnf_context(grammar_file)
    if sniff_kind(grammar_file) != "checklist":
        raise UsageError(f"{grammar_file} is no ABNF file and no checklist: give one of these.")
    return _checklist_context(grammar_file, item)


def _abnf_context(path: Path) -> Context:
    texts, _ = load_rules(Shelves.beside(path))
    own = parse_rules(read_text(path), str(path))
    names = {rule.name for rule in own.rules if rule.public}
    shipped = RuleSet.from_texts(texts.items())
    others = tuple(file for file in shipped.files if not names & {rule.name for rule in file.rules})
    rules = RuleSet((own, *others))
    roots = [own.root] if own.root else [rule.name for rule in own.rules if rule.public]
    if not roots:
        raise UsageError(f"{path} has no root and no public rule, so nothing can be said.")
    # By reference, so that what a root says is told apart by its words, as that of any rule.
    nodes = {
        name: Reference(name, PhrasePlace(str(path), 1, 1)) for name in roots if own.named(name)
    }
    grammar = Grammar(nodes, rules, scopes=dict.fromkeys(nodes, str(path)))
    return Context(grammar, frozenset(nodes), Room.from_rules(shipped))


def _checklist_context(path: Path, item_id: str | None) -> Context:
    shelves = Shelves.beside(path)
    loaded = load_checklist(path)
    rules = RuleSet.from_texts(with_roles(*load_rules(shelves), loaded)[0].items())
    lexicon = load_lexicon_beside(shelves)
    respellings = lexicon.respellings() if lexicon is not None else {}
    roots: dict[str, Node] = {}
    problems: list[Problem] = []
    active = {f"command.{name}" for name in ANYTIME}
    ids = []
    for s, section in enumerate(loaded.document.sections):
        for i, item in enumerate(section.items):
            ids.append(item.id)
            phrases = item_phrases(item, ("sections", s, "items", i), loaded.place_of, problems)
            found = {name: node for name, _, node in phrases}
            if item_id is None or item_id in {one.id for one in section.items}:
                roots.update(found)
            if item_id in (None, item.id):
                active.update(found)
    if problems:
        raise DocumentError(tuple(problems))
    if item_id is not None and item_id not in ids:
        raise UsageError(f"There is no item {item_id}: choose one of {', '.join(ids)}.")
    for name in ANYTIME:
        roots[f"command.{name}"] = Reference(name, PhrasePlace("rules", 1, 1))
    return Context(
        Grammar(roots, rules, respellings),
        frozenset(active),
        Room.from_rules(rules),
        harmless=frozenset(filter(is_harmless, active)),
        alikes=sound_alikes(loaded.document.language),
    )


def hear_files(
    listening: Listening, paths: Sequence[Path], *, stream: bool, channel: int
) -> Iterator[HeardUtterance | VoicelistError]:
    """What each file amounts to, or what is wrong with it, in the order given. As many as the
    machine has cores are heard at the same time: native code lets other threads run. With `stream`
    it is one after the other, and each utterance comes as it is found."""

    def heard(path: Path) -> Iterator[HeardUtterance | VoicelistError]:
        try:
            yield from hear_file(listening, path, stream=stream, channel=channel)
        except VoicelistError as error:
            yield error

    if stream:
        yield from itertools.chain.from_iterable(map(heard, paths))
        return
    with ThreadPoolExecutor(min(os.cpu_count() or 1, _AT_ONCE_AT_MOST)) as pool:
        yield from itertools.chain.from_iterable(pool.map(lambda path: [*heard(path)], paths))


def hear_file(
    listening: Listening, path: Path, *, stream: bool, channel: int
) -> Iterator[HeardUtterance]:
    """What one file amounts to: one utterance, or with `stream` each endpointed one."""
    recogniser, verifier, grammar = listening.recogniser, listening.verifier, listening.grammar
    if stream:
        sound = look_through(path)
        row = _row(path, sound.channels, channel)
        channel_stream = ChannelStream(0, recogniser, verifier)
        for utterance in decode_blocks(
            channel_stream, (block[row] for block in sound.blocks()), grammar
        ):
            decoder = channel_stream.decoder(utterance.start_sample)
            yield _heard(path, utterance, listening, decoder or NoDecoder())
        return
    whole = read_sound(path).samples
    samples = whole[_row(path, whole.shape[0], channel)]
    decoder = DecoderHere(recogniser, verifier, past_of(samples, grammar))
    yield _heard(path, decode_whole(recogniser, samples, grammar), listening, decoder)


def _heard(
    path: Path, utterance: DecodedUtterance, listening: Listening, decoder: Decoder
) -> HeardUtterance:
    understood = decide(utterance.passes, listening.context, decoder, POLICY)
    return HeardUtterance(str(path), understood, utterance)


def _row(path: Path, count: int, channel: int) -> int:
    """Which of the `count` channels of a file is heard, from 0."""
    if not channel and count > 1:
        raise UsageError(
            f"{path} has {count} channels and one utterance is one channel's: "
            "choose with --channel 1 or --channel 2."
        )
    if channel > count:
        raise UsageError(f"{path} has no channel {channel}: it has {count}.")
    return max(channel, 1) - 1


@dataclass(frozen=True, slots=True)
class HeardUtterance:
    """One utterance of one file."""

    file: str
    understanding: Understanding
    utterance: DecodedUtterance

    @property
    def status(self) -> str:
        if isinstance(self.understanding, Understood):
            return "understood"
        return "not-for-us" if isinstance(self.understanding, NotForUs) else "not-understood"

    def as_json(self) -> dict[str, Any]:
        """The object that `--json` prints."""
        match = getattr(self.understanding, "match", None)
        return {
            "file": self.file,
            "status": self.status,
            "rule": match.rule if match else None,
            "words": match.text if match else " ".join(self.understanding.words),
            "slots": match.slots() if match else {},
            "values": match.values() if match else {},
            "confidence": None,
            "speech_end_s": round(self.utterance.speech_end_s, 3),
            "decided_at_s": round(self.utterance.decided_at_s, 3),
            "decode_s": round(self.utterance.decode_s, 4),
        }

    def as_line(self) -> str:
        """The line that is printed without `--json`."""
        told = self.as_json()
        rule = f" {told['rule']}:" if told["rule"] else ""
        why = getattr(self.understanding, "why", "")
        return f"{self.file}: {self.status}{rule} {told['words']}{f' ({why})' if why else ''}"
