"""Asks questions aloud, one after the other, takes typed or spoken answers, and tells what they are
worth. Nothing of it is kept."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from rich.console import Console

from voicelist.answering_into import GatedEar
from voicelist.asr.model import find_model
from voicelist.asr.recogniser_process import RecogniserProcess
from voicelist.asr.vocabulary import vocabulary
from voicelist.asr.wide_beam import wide_search_model
from voicelist.audio.microphone import Microphone
from voicelist.display import TerminalDisplay
from voicelist.documents.lexicon import Lexicon
from voicelist.documents.sentences import Sentences
from voicelist.gated_speaker import Ear, NoEar
from voicelist.grammar.match import Match
from voicelist.grammar.readable import written
from voicelist.grammar.ruleset import RuleSet
from voicelist.listening.gate import MicrophoneGate
from voicelist.listening.room_sound import LiveRoom
from voicelist.listening.sound import SoundSource
from voicelist.listening.typed import typed_words
from voicelist.practice.quiz import TRIES, AskedOnce, QuizQuestion, QuizVerdict, Score
from voicelist.practice.settings import ROOT
from voicelist.practising.ears import Ears
from voicelist.session.settings_said import SettingsSaid
from voicelist.session.wording import spoken
from voicelist.speaking.speaker import SpeechOutput
from voicelist.understanding.context import Context
from voicelist.understanding.hypothesis import Hypothesis
from voicelist.understanding.interpretation import Understanding, Understood, understand

_HELP = ("help", "?")
# So often an answer that was not understood is asked for once more; then the question counts as
# open. Project choice.
_NOT_UNDERSTOOD_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class Language:
    """What may be said and how it is said: the context of all questions, the rules, the words."""

    context: Context
    rules: RuleSet
    sentences: Sentences
    lexicon: Lexicon

    @property
    def primary(self) -> str:
        return self.sentences.language.partition("-")[0]

    def asking(self, roots: Sequence[str]) -> Context:
        return replace(self.context, active=frozenset(roots))


class Answers(Protocol):
    """Where answers come from."""

    def next(self, question: QuizQuestion) -> Match | None:
        """The next answer; None where it was not understood. Raises EOFError where no more come."""


@dataclass(slots=True)
class TypedAnswers:
    """Lines of the standard input; `help` shows how a question may be answered."""

    language: Language
    tell: Callable[[str], None]

    def next(self, question: QuizQuestion) -> Match | None:
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        if line.strip().lower() in _HELP:
            for root in question.roots:
                rule = self.language.rules.find(root, None)
                if rule is not None:
                    self.tell(written(rule.body, self.language.rules, rule.place.file))
            return self.next(question)
        context = self.language.asking(question.roots)
        words = typed_words(line, self.language.primary)
        known = context.grammar.vocabulary() | context.room.words()
        words = self.language.lexicon.as_known(words, known)
        found = understand([Hypothesis(words)], (), context)
        return _match(self.language, found, question)


@dataclass(slots=True)
class SpokenAnswers:
    """What is heard."""

    language: Language
    ears: Ears
    say: Callable[[str], None]

    def next(self, question: QuizQuestion) -> Match | None:
        def again() -> None:
            self.say(question.text)

        found = self.ears.hear(self.language.asking(question.roots), again)
        if found is None:
            raise EOFError
        return _match(self.language, found, question)


def _match(language: Language, found: Understanding, question: QuizQuestion) -> Match | None:
    """What was understood; settings also as people put them."""
    if isinstance(found, Understood):
        return found.match
    words = getattr(found, "words", ())
    if ROOT not in question.roots:
        return None
    return SettingsSaid(language.rules).read(words, question.roots[0]) if words else None


@dataclass(slots=True)
class Aloud:
    """Shows and speaks; the microphone is gated meanwhile."""

    language: Language
    display: TerminalDisplay
    mouth: SpeechOutput
    ear: Ear

    def say(self, text: str) -> None:
        self.display.said(text)
        aloud = spoken(self.language.sentences, self.language.lexicon, text)
        self.ear.speech_begins(text)
        self.mouth.say(aloud, interrupted=self.ear.somebody_speaks)
        self.ear.speech_ended(broken_off=False)


@dataclass(slots=True)
class Asker:
    """Asks, and takes the time from the end of each question to its answer."""

    language: Language
    answers: Answers
    aloud: Aloud

    def say(self, text: str) -> None:
        self.aloud.say(text)

    def ask_all(self, questions: Sequence[QuizQuestion], taken: Callable[..., None]) -> Score:
        """Asks all; who ends it early keeps what was answered. `taken` is told of each question
        that was answered right, with its answers."""
        score = Score((), len(questions))
        with contextlib.suppress(EOFError, KeyboardInterrupt):
            for question in questions:
                asked, matches = self._ask(question)
                score = replace(score, asked=(*score.asked, asked))
                if asked.right:
                    taken(question, matches)
        return score

    def _ask(self, question: QuizQuestion) -> tuple[AskedOnce, list[Match]]:
        self.say(question.text)
        began_s = time.monotonic()
        matches: list[Match] = []
        words: list[str] = []
        seconds: list[float] = []
        reasons: list[str] = []
        misses = 0
        right = False
        while not right and len(matches) < TRIES and misses < _NOT_UNDERSTOOD_AT_MOST:
            match = self.answers.next(question)
            if match is None:
                misses += 1
                self.say(self.language.sentences.text("practice.not-heard"))
                continue
            seconds.append(round(time.monotonic() - began_s, 1))
            matches.append(match)
            verdict = question.judged(matches, last=len(matches) == TRIES)
            words.append(verdict.answer)
            reasons += verdict.shown
            right = verdict.right
            self._tell(verdict)
            began_s = time.monotonic()
        if not right and len(matches) < TRIES:
            verdict = question.judged(matches, last=True)
            reasons += verdict.shown
            self._tell(verdict)
        asked = AskedOnce(
            question.kind,
            question.about,
            question.text,
            tuple(words),
            tuple(seconds),
            right,
            tuple(dict.fromkeys(reasons)),
        )
        return asked, matches

    def _tell(self, verdict: QuizVerdict) -> None:
        """What an answer is worth, and the reasons on the display."""
        for told in verdict.told:
            self.say(told)
        for reason in verdict.shown:
            self.aloud.display.show("remedy", reason)


@dataclass(frozen=True, slots=True)
class HowAsked:
    """By microphone (its name, None for the usual one), from a recording, or typed."""

    typed: bool = False
    microphone: str | None = None
    recording: SoundSource | None = None
    voice: str | None = None
    speaker: str | None = None
    plain: bool = False


@contextlib.contextmanager
def asker(language: Language, how: HowAsked, console: Console) -> Iterator[Asker]:
    """Starts what speaks and hears, and ends it. Raises MissingPart."""
    display = TerminalDisplay(console, echo_typed=False, plain=how.plain)
    tell = partial(display.show, "notice")
    with contextlib.ExitStack() as stack:
        mouth = SpeechOutput(how.voice, play=not how.typed, out=None, device=how.speaker)
        stack.callback(mouth.close)
        ear: Ear = NoEar()
        answers: Answers = TypedAnswers(language, tell)
        if not how.typed:
            source = how.recording or _microphone(how, stack)
            ear = GatedEar(source) if isinstance(source, LiveRoom) else ear
            ears = _ears(language, source, stack, tell)
            ears.make_ready(language.context)
        aloud = Aloud(language, display, mouth, ear)
        if not how.typed:
            answers = SpokenAnswers(language, ears, aloud.say)
        yield Asker(language, answers, aloud)


def _microphone(how: HowAsked, stack: contextlib.ExitStack) -> LiveRoom:
    microphone = Microphone(how.microphone, 1)
    stack.callback(microphone.close)
    return LiveRoom(microphone, MicrophoneGate(), 1)


def _ears(
    language: Language,
    source: SoundSource,
    stack: contextlib.ExitStack,
    tell: Callable[[str], None],
) -> Ears:
    model = find_model()
    recogniser = RecogniserProcess(wide_search_model(model), 1)
    stack.callback(recogniser.close)
    said = language.context.grammar.vocabulary() | language.context.room.words()
    return Ears(source, recogniser, vocabulary(model.path, among=said), tell)
