"""The tree head of a case, signed by a key that the site keeps.

A signed tree head is a checkpoint in a signed note (the C2SP's tlog-checkpoint and signed-note)
with an Ed25519 signature (RFC 8032): three lines of text (whose, how many events, the root), and a
line with the signature. It says that whoever holds the key vouched for so many events; not when.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from voicelist.errors import MissingPart, RecordError, UsageError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (
        Ed25519PrivateKey,
        Ed25519PublicKey,
    )

_ED25519 = b"\x01"
_PRIVATE = "PRIVATE+KEY+"
_DASH = "\N{EM DASH} "
_KEY_BYTES, _ID_BYTES, _SIGNATURE_BYTES = 32, 4, 64
_NOT_SIGNED = "This is no signed tree head as voicelist record sign writes it: ask for it again."


@dataclass(frozen=True, slots=True)
class SigningKey:
    """A private key and the name that it signs under."""

    name: str
    secret: bytes

    @property
    def text(self) -> str:
        """As it stands in its file."""
        key_id = _key_id(self.name, self._public).hex()
        return f"{_PRIVATE}{self.name}+{key_id}+{_base64(_ED25519 + self.secret)}"

    @property
    def public_text(self) -> str:
        """What others verify with."""
        public = self._public
        return f"{self.name}+{_key_id(self.name, public).hex()}+{_base64(_ED25519 + public)}"

    def sign(self, body: str) -> str:
        """`body`, whose lines all end, as a signed note."""
        signature = _key_of(self.secret).sign(body.encode())
        signed = _base64(_key_id(self.name, self._public) + signature)
        return f"{body}\n{_DASH}{self.name} {signed}\n"

    @property
    def _public(self) -> bytes:
        return _key_of(self.secret).public_key().public_bytes_raw()


@dataclass(frozen=True, slots=True)
class SignedHead:
    """A signed tree head whose signature holds: `size` events have the root `tree_head`."""

    case: str
    size: int
    tree_head: str
    by: str


def new_key(name: str) -> SigningKey:
    """A new key. Raises UsageError for a name that a note cannot hold, MissingPart without the
    library."""
    if not name or not name.isprintable() or any(one.isspace() or one == "+" for one in name):
        raise UsageError(
            "The name of a key has printable characters without spaces and plus signs."
        )
    kind, _ = _library()
    return SigningKey(name, kind.generate().private_bytes_raw())


def read_key(text: str) -> SigningKey:
    """A key from the text of its file. Raises UsageError."""
    plain = text.strip()
    if not plain.startswith(_PRIVATE):
        raise UsageError("This is no signing key: make one with voicelist record key.")
    name, secret, key_id = _parted(plain.removeprefix(_PRIVATE), "signing key")
    key = SigningKey(name, secret)
    if _key_id(name, key._public) != key_id:
        raise UsageError("This signing key was changed: its parts do not belong together.")
    return key


def signed_head(key: SigningKey, case: str, size: int, tree_head: str) -> str:
    """The signed tree head of a case, as text."""
    root = _base64(bytes.fromhex(tree_head))
    return key.sign(f"{key.name}/{case}\n{size}\n{root}\n")


def opened_head(note: str, public_text: str) -> SignedHead:
    """What a signed tree head says. Raises RecordError unless the key signed it, UsageError if
    `public_text` is no key."""
    body, name = verified_text(note, public_text)
    try:
        origin, size, root = body.removesuffix("\n").split("\n")
        raw = base64.b64decode(root, validate=True)
        count = int(size)
    except (ValueError, binascii.Error) as error:
        raise RecordError(_NOT_SIGNED) from error
    if not origin.startswith(f"{name}/") or str(count) != size or len(raw) != _KEY_BYTES:
        raise RecordError(_NOT_SIGNED)
    return SignedHead(origin.removeprefix(f"{name}/"), count, raw.hex(), name)


def verified_text(note: str, public_text: str) -> tuple[str, str]:
    """The text of a signed note, and who signed it. Raises RecordError unless the key signed it,
    UsageError if `public_text` is no key."""
    _, kind = _library()
    from cryptography.exceptions import InvalidSignature

    name, public, key_id = _parted(public_text.strip(), "public key")
    if _key_id(name, public) != key_id:
        raise UsageError("This public key was changed: its parts do not belong together.")
    body, found, lines = note.rpartition("\n\n")
    if not found or not lines.endswith("\n"):
        raise RecordError(_NOT_SIGNED)
    text = f"{body}\n"
    for line in lines.splitlines():
        who, _, signed = line.removeprefix(_DASH).partition(" ")
        try:
            raw = base64.b64decode(signed, validate=True)
            if base64.b64encode(raw).decode("ascii") != signed:
                raise binascii.Error("bits that stand for nothing")
        except binascii.Error:
            continue
        if who != name or raw[:_ID_BYTES] != key_id or len(raw) != _ID_BYTES + _SIGNATURE_BYTES:
            continue
        try:
            kind.from_public_bytes(public).verify(raw[_ID_BYTES:], text.encode())
        except InvalidSignature as error:
            raise RecordError(
                f"The signature of {name} does not hold: the signed tree head was changed."
            ) from error
        return text, name
    raise RecordError(f"There is no signature of {name} with this key on it.")


def _parted(text: str, what: str) -> tuple[str, bytes, bytes]:
    """Name, the 32 bytes of a key, and its key ID."""
    try:
        name, key_id, encoded = text.split("+", 2)
        raw = base64.b64decode(encoded, validate=True)
        given = bytes.fromhex(key_id)
    except (ValueError, binascii.Error) as error:
        raise UsageError(f"This is no {what} as voicelist record key makes it.") from error
    if not name or raw[:1] != _ED25519 or len(raw) != 1 + _KEY_BYTES or len(given) != _ID_BYTES:
        raise UsageError(f"This is no {what} as voicelist record key makes it.")
    return name, raw[1:], given


def _key_id(name: str, public: bytes) -> bytes:
    return hashlib.sha256(name.encode() + b"\n" + _ED25519 + public).digest()[:_ID_BYTES]


def _base64(raw: bytes) -> str:
    return base64.b64encode(raw).decode()


def _key_of(secret: bytes) -> Ed25519PrivateKey:
    private, _ = _library()
    return private.from_private_bytes(secret)


def _library() -> tuple[type[Ed25519PrivateKey], type[Ed25519PublicKey]]:
    try:
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError as error:
        raise MissingPart(
            "Signing needs the Python package cryptography: pip install 'voicelist[signing]'."
        ) from error
    return ed25519.Ed25519PrivateKey, ed25519.Ed25519PublicKey
