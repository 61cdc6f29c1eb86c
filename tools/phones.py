"""Makes `voicelist/phonetics/phones.en.txt` again: which phones English words are spoken with.

    python tools/phones.py

Needs the program espeak-ng and the speech model. Words are those of the shipped documents, those of
`phones_words.txt`, and the commonest short words of the speech model, of which `voicelist check`
makes up respellings. espeak-ng is run as a program, here only: what it says is data in the table.
"""

from __future__ import annotations

import re
import struct
import subprocess
from array import array
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path

from voicelist.asr.model import find_model
from voicelist.documents.loading import load_lexicon
from voicelist.linting.material import Material, compile_material
from voicelist.linting.vocabulary import tokens
from voicelist.phonetics.phones import PHONES
from voicelist.places import shipped

TABLE = Path(__file__).resolve().parents[1] / "voicelist" / "phonetics" / "phones.en.txt"
OTHER_WORDS = Path(__file__).with_name("phones_words.txt")
VOICE = "en-us"
COMMON_WORDS = 6000
LONGEST_COMMON = 9  # letters: respellings are made of short words

# No proposal is made of these.
UNFIT = re.compile(
    r"fuck|shit|bitch|cunt|dick|cock|nigg|whore|slut|porn|rape|fag|piss|bastard|crap|"
    r"^(ass|asses|cum|tit|tits|damn|kill\w*|dead|die|dies|died|death|sex\w*|nazi\w*|blind|hell)$"
)

# What espeak-ng writes in the alphabet of the International Phonetic Association, longest first.
_ARPABET = {
    "tʃ": "CH",
    "dʒ": "JH",
    "eɪ": "EY",
    "aɪ": "AY",
    "aʊ": "AW",
    "ɔɪ": "OY",
    "oʊ": "OW",
    "n̩": "AX N",
    "l̩": "AX L",
    "ɜː": "AX R",
    "iː": "IY",
    "uː": "UW",
    "ɑː": "AA",
    "ɔː": "AO",
    "oː": "AO",
    "ɚ": "AX R",
    "ɝ": "AX R",
    "i": "IY",
    "ɪ": "IH",
    "ᵻ": "IH",
    "e": "EH",
    "ɛ": "EH",
    "æ": "AE",
    "a": "AA",
    "ɑ": "AA",
    "ɔ": "AO",
    "o": "OW",
    "ʌ": "AH",
    "ɐ": "AX",
    "ə": "AX",
    "ʊ": "UH",
    "u": "UW",
    "p": "P",
    "b": "B",
    "t": "T",
    "d": "D",
    "ɾ": "DX",
    "ʔ": "T",
    "k": "K",
    "ɡ": "G",
    "f": "F",
    "v": "V",
    "θ": "TH",
    "ð": "DH",
    "s": "S",
    "z": "Z",
    "ʃ": "SH",
    "ʒ": "ZH",
    "h": "HH",
    "x": "K",
    "m": "M",
    "n": "N",
    "ŋ": "NG",
    "l": "L",
    "ɹ": "R",
    "r": "R",
    "w": "W",
    "j": "Y",
}
_IPA = re.compile("|".join(sorted(_ARPABET, key=len, reverse=True)))
_SILENT = str.maketrans("", "", "ˈˌː_ \u200d͡")

HEADER = """\
# Which phones English words are spoken with (ARPAbet without stress; AX unstressed, DX a flap; the
# vowel of "firm" is AX R). Made by tools/phones.py with {version},
# run as a program (espeak-ng --ipa -v {voice}), of the words of the shipped documents, words of the
# trade, and the {common} commonest words of at most {longest} letters of the speech model
# {model}, by its own word weights. A word, a tab, its phones.
"""


def main() -> None:
    """Writes the table."""
    model = find_model().path
    say = sayings()
    wanted = {*document_words(), *other_words(), *islice(common_words(model), COMMON_WORDS)}
    words = sorted(wanted)
    spoken = espeak([say.get(word, word) for word in words])
    lines = [f"{word}\t{' '.join(phones)}\n" for word, phones in zip(words, spoken, strict=True)]
    version = subprocess.run(["espeak-ng", "--version"], capture_output=True, text=True, check=True)
    head = HEADER.format(
        version=version.stdout.partition("  ")[0].strip(),
        voice=VOICE,
        common=COMMON_WORDS,
        longest=LONGEST_COMMON,
        model=model.name,
    )
    TABLE.write_text(head + "".join(lines), encoding="utf-8")
    print(f"{len(words)} words, {TABLE.stat().st_size} bytes: {TABLE}")


def document_words() -> set[str]:
    """Every word of the shipped rules, answers and respellings, spelled or heard."""
    words: set[str] = set()
    for path in shipped("grammars").glob("checklists/*.yaml"):
        material, problems = Material.beside(path)
        compiled, more = (None, []) if material is None else compile_material(material)
        if compiled is None or problems or more:
            raise ValueError(f"{path.name} does not compile: voicelist check tells why")
        words |= {step.word for steps in compiled.grammar.graph.steps for step in steps}
        rules = [rule for file in compiled.rules.files for rule in file.rules]
        words |= {token.text for rule in rules for token in tokens(rule.body)}
        lexicon = compiled.material.lexicon
        words |= {one.written.lower() for one in lexicon.words if " " not in one.written}
    return words


def other_words() -> list[str]:
    """The words of the list beside this script."""
    lines = OTHER_WORDS.read_text(encoding="utf-8").splitlines()
    return [word for line in lines if not line.startswith("#") for word in line.split()]


def sayings() -> dict[str, str]:
    """Words that a voice has to be given otherwise than written."""
    lexicon = load_lexicon(shipped("grammars") / "lexicon.yaml").document
    return {one.written.lower(): one.say for one in lexicon.words if one.say is not None}


def common_words(model: Path) -> Iterator[str]:
    """Words of the speech model that respellings may be made of, the commonest first."""
    for word in _by_weight((model / "graph" / "Gr.fst").read_bytes()):
        plain = word.isascii() and word.isalpha() and (len(word) > 1 or word in "ai")
        if plain and len(word) <= LONGEST_COMMON and not UNFIT.search(word):
            yield word


def _by_weight(data: bytes) -> list[str]:
    """The words of an OpenFst automaton of type ngram (ngram-fst.h, read there), by the weights
    that they have after no other word."""
    at = _after_text(data, _after_text(data, 4)) + 40
    _, at = _symbols(data, at)
    words, at = _symbols(data, at)
    states, futures, finals = struct.unpack_from("<QQQ", data, at)
    at += 24
    context_bytes, future_bytes, final_bytes = (
        -(-bits // 64) * 8 for bits in (2 * states + 1, futures + states + 1, states)
    )
    at += context_bytes
    # One bit for each word that may follow a state, in the order of the states, then a 0.
    first = data[at : at + future_bytes]
    count, bit = 0, 1
    while first[bit // 8] >> (bit % 8) & 1:
        count, bit = count + 1, bit + 1
    at += future_bytes + final_bytes + 4 * (states + 1)
    labels = array("i", data[at : at + 4 * count])
    at += 4 * futures + 4 * (states + 1) + 4 * finals
    weights = array("f", data[at : at + 4 * count])
    return [words[label] for _, label in sorted(zip(weights, labels, strict=True))]


def _symbols(data: bytes, at: int) -> tuple[dict[int, str], int]:
    at = _after_text(data, at + 4) + 8
    (count,) = struct.unpack_from("<q", data, at)
    at += 8
    symbols = {}
    for _ in range(count):
        end = _after_text(data, at)
        (number,) = struct.unpack_from("<q", data, end)
        symbols[number] = data[at + 4 : end].decode()
        at = end + 8
    return symbols, at


def _after_text(data: bytes, at: int) -> int:
    (length,) = struct.unpack_from("<i", data, at)
    return at + 4 + int(length)


def espeak(texts: Iterable[str]) -> list[tuple[str, ...]]:
    """The phones of each text, by the program."""
    command = ["espeak-ng", "-q", "--ipa", "--sep=_", "-v", VOICE]
    lines = "\n".join(texts)
    answer = subprocess.run(command, input=lines, capture_output=True, text=True, check=True)
    return [_phones(line) for line in answer.stdout.splitlines()]


def _phones(ipa: str) -> tuple[str, ...]:
    left = ipa.replace("_", "").replace("ˈ", "").replace("ˌ", "").replace(" ", "")
    phones = tuple(phone for part in _IPA.findall(left) for phone in _ARPABET[part].split())
    unread = _IPA.sub("", left).translate(_SILENT)
    if unread or not phones or not PHONES.issuperset(phones):
        raise ValueError(f"phones that are not known: {ipa!r}, {unread!r} is left")
    return phones


if __name__ == "__main__":
    main()
