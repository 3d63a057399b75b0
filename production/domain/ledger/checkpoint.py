"""Signed checkpoints: a short text that says how a book stood, which can be printed, mailed and kept elsewhere.

The note is plain text, every line closed by a line feed:

    Potwright checkpoint 1
    kitchen: <code>
    entries: <number of entries, in decimal digits>
    root: <root of the tree over them, base64>
    time: <UTC, 2027-02-01T16:00:00.000000Z>
    key: <public key of Ed25519, base64>
    signature: <over all lines before this one, base64>
"""

from __future__ import annotations

import binascii
import re
from base64 import b64decode, b64encode
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from production.domain.errors import PotwrightError
from production.domain.ledger.leaf import moment_text

HEADING = "Potwright checkpoint 1"
_NOTE = re.compile(
    rf"{HEADING}\nkitchen: (?P<kitchen>[^\n]+)\nentries: (?P<size>0|[1-9][0-9]{{0,17}})\nroot: (?P<root>[^\n]+)\n"
    r"time: (?P<time>[^\n]+)\nkey: (?P<key>[^\n]+)\nsignature: (?P<signature>[^\n]+)\n"
)


class BadCheckpoint(PotwrightError):
    """A checkpoint cannot be read, or its signature does not belong to it."""

    code = "bad-checkpoint"


class BadKey(PotwrightError):
    """A signing key cannot be read."""

    code = "bad-signing-key"


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """How a book stood at a moment; `key` is the public key that vouches for it."""

    kitchen: str
    size: int
    root: bytes
    at: datetime
    key: bytes


@dataclass(frozen=True, slots=True)
class Signer:
    """Who signs: the public key, and the way to sign with the secret one."""

    key: bytes
    sign: Callable[[bytes], bytes]


class SignerKey:
    """The secret key as it is kept: 32 bytes in base64."""

    @staticmethod
    def read(text: str) -> Signer:
        """The signer behind a kept key; the text itself is never repeated in an error."""
        secret = Ed25519PrivateKey.from_private_bytes(key_bytes(text))
        return Signer(key=secret.public_key().public_bytes_raw(), sign=secret.sign)

    @staticmethod
    def new() -> str:
        """A key that nobody has seen before."""
        return b64encode(Ed25519PrivateKey.generate().private_bytes_raw()).decode()


def key_bytes(text: str) -> bytes:
    """The 32 bytes of a key, public or secret.

    Equation: base64.
    Units: text [no quantities]; returns [no quantities].
    Valid: 32 bytes in base64.
    Errors: BadKey for anything else; the text itself is never repeated.
    Source: RFC 8032, section 5.1.5 (32 bytes); RFC 4648.
    """
    try:
        key = b64decode(text.strip(), validate=True)
    except (binascii.Error, ValueError):
        key = b""
    if len(key) != 32:
        raise BadKey(
            "A signing key must be 32 bytes in base64.", remedy="Make one with: manage.py sign_records --new-key"
        )
    return key


def key_id(key: bytes) -> str:
    """A short name for a public key, to tell keys apart at a glance.

    Equation: the first 8 bytes of SHA-256(key), in hexadecimal digits.
    Units: key [no quantities]; returns [no quantities].
    Valid: any public key; not a proof of anything.
    Errors: none.
    Source: our own convention.
    """
    return sha256(key).digest()[:8].hex()


def checkpoint_note(*, kitchen: str, size: int, root: bytes, at: datetime, signer: Signer) -> str:
    """Sign how the book stands.

    Equation: Ed25519 over all lines before the signature's.
    Units: kitchen [code], size [entries], root [hash], at [aware], signer [key]; returns [text].
    Valid: codes of one line.
    Errors: NotRecordable for a moment without a zone.
    Source: RFC 8032; the form of the note is our own, told above.
    """
    said = (
        f"{HEADING}\nkitchen: {kitchen}\nentries: {size}\nroot: {b64encode(root).decode()}\n"
        f"time: {moment_text(at)}\nkey: {b64encode(signer.key).decode()}\n"
    )
    return f"{said}signature: {b64encode(signer.sign(said.encode())).decode()}\n"


def read_checkpoint(note: str) -> Checkpoint:
    """Read a note whose signature belongs to the key it names; whether that key is the kitchen's is not said by it.

    Equation: Ed25519 verification over all lines before the signature's.
    Units: note [no quantities]; returns [no quantities].
    Valid: notes in the form told above; line ends of mail programs and white space around it are forgiven.
    Errors: BadCheckpoint when it cannot be read or was not signed by its key.
    Source: RFC 8032, section 5.1.7.
    """
    text = note.strip().replace("\r\n", "\n") + "\n"
    found = _NOTE.fullmatch(text)
    if found is None:
        raise BadCheckpoint("This is no checkpoint: it does not have the seven lines of one.")
    try:
        read = Checkpoint(
            kitchen=found["kitchen"],
            size=int(found["size"]),
            root=b64decode(found["root"], validate=True),
            at=datetime.strptime(found["time"], "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC),
            key=b64decode(found["key"], validate=True),
        )
        signature = b64decode(found["signature"], validate=True)
        Ed25519PublicKey.from_public_bytes(read.key).verify(signature, text[: found.start("signature") - 11].encode())
    except InvalidSignature:
        raise BadCheckpoint("The signature of this checkpoint does not belong to what it says.") from None
    except ValueError:
        raise BadCheckpoint("This checkpoint holds a number, time or key that cannot be read.") from None
    return read
