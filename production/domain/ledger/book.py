"""The check of a whole book: leaves, numbering, chain, tree and checkpoints; it names the place."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from production.domain.errors import PotwrightError
from production.domain.ledger.checkpoint import Checkpoint, key_id, read_checkpoint
from production.domain.ledger.tree import leaf_hash, peaks_with, root_of_peaks

MOST_FINDINGS = 100


@dataclass(frozen=True, slots=True)
class KeptEntry:
    """An entry as it is found: what it says now in canonical bytes, and the two hashes kept with it in hexadecimal."""

    number: int
    said: bytes
    before: str
    leaf: str


@dataclass(frozen=True, slots=True)
class BookHead:
    """What the book says of itself: how many entries, and the tops of the complete trees over them, in hexadecimal."""

    size: int
    peaks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptCheckpoint:
    """A checkpoint as it is found beside the book; the note is what counts, the rest must say the same."""

    note: str
    size: int
    root: str
    signed_at: datetime
    key_id: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not as it was written down, and the entries among which it lies."""

    first: int
    last: int
    sentence: str


@dataclass(slots=True)
class _Walk:
    """Where the walk through the entries stands."""

    wanted: frozenset[int]  # sizes of which the root is asked for
    read: int = 0
    leaf_before: str | None = ""  # None: it is missing
    unbroken: bool = True  # nothing missing so far, so that the tree can be held against others
    peaks: tuple[bytes, ...] = ()
    roots: dict[int, bytes] = field(default_factory=dict)
    peaks_at: dict[int, tuple[bytes, ...]] = field(default_factory=dict)

    def note_root(self) -> None:
        if self.unbroken and self.read in self.wanted:
            self.roots[self.read] = root_of_peaks(self.peaks)
            self.peaks_at[self.read] = self.peaks


def check_book(
    *,
    kitchen: str,
    entries: Iterable[KeptEntry],
    head: BookHead,
    checkpoints: Sequence[KeptCheckpoint],
    keys: Collection[bytes],
    outside: Sequence[str] = (),
    size_after: Callable[[], int] | None = None,
) -> tuple[Finding, ...]:
    """Everything about a book that is not as it was written down: entries in their order, the head, the checkpoints.

    Equation: each entry must hash to its leaf, name the leaf before it and follow its number; the tree over the leaves
    must have the tops that the book names, and at the size of each checkpoint the root that was signed.
    Units: kitchen [code], entries [in order of number], head, checkpoints, outside [no quantities], keys [public keys
    that are trusted], size_after [entries, asked when all are read; others may append meanwhile]; returns [findings].
    Valid: any book. An empty answer proves that the book agrees with itself and with the checkpoints given, no more.
    Errors: none; what cannot be read is a finding.
    Source: RFC 9162, section 2.1; RFC 8785; RFC 8032.
    """
    beside = [_Vouched.of(each, kitchen, keys) for each in checkpoints]
    elsewhere = [_Vouched.of_outside(note, kitchen, keys) for note in outside]
    sizes = {each.said.size for each in (*beside, *elsewhere) if each.said}
    walk = _Walk(frozenset({head.size} | sizes))
    found = list(_first_of(_walked(walk, entries)))
    found += _against_head(walk, head, size_after() if size_after else head.size)
    found += [Finding(*each.place(), each.trouble) for each in (*beside, *elsewhere) if each.trouble]
    found += [*_against_checkpoints(walk, beside), *_against_checkpoints(walk, elsewhere)]
    return tuple(found)


def _first_of(findings: Iterator[Finding]) -> Iterator[Finding]:
    """The first hundred; the walk goes on to its end."""
    for place, each in enumerate(findings):
        if place < MOST_FINDINGS:
            yield each


def _walked(walk: _Walk, entries: Iterable[KeptEntry]) -> Iterator[Finding]:
    walk.note_root()
    for each in entries:
        yield from _numbering(walk, each.number)
        leaf = leaf_hash(each.said)
        if leaf.hex() != each.leaf:
            yield Finding(each.number, each.number, f"Entry {each.number} is not as it was written down.")
            leaf = _kept(each.leaf) or leaf
        elif walk.leaf_before is not None and each.before != walk.leaf_before:
            place = max(each.number - 1, 1)
            yield Finding(
                place,
                each.number,
                f"Entry {each.number} was written after another entry than the one that now stands before it: "
                f"entry {place} was changed or put there.",
            )
        walk.leaf_before = each.leaf
        if walk.unbroken:
            walk.peaks = peaks_with(walk.peaks, size=walk.read, leaf=leaf)
        walk.read = max(walk.read, each.number)
        walk.note_root()


def _numbering(walk: _Walk, number: int) -> Iterator[Finding]:
    missing = walk.read + 1
    if number == missing:
        return
    walk.unbroken, walk.leaf_before = False, None
    if number < missing:
        yield Finding(number, number, f"Entry {number} stands twice, or out of its order.")
    elif number == missing + 1:
        yield Finding(missing, missing, f"Entry {missing} is missing.")
    else:
        yield Finding(missing, number - 1, f"Entries {missing} to {number - 1} are missing.")


def _kept(leaf: str) -> bytes:
    try:
        return bytes.fromhex(leaf)
    except ValueError:
        return b""


def _against_head(walk: _Walk, head: BookHead, size_after: int) -> Iterator[Finding]:
    if walk.read < head.size:
        yield Finding(
            walk.read + 1,
            head.size,
            f"The end is missing: the book counts {head.size} entries, the last one there is entry {walk.read}.",
        )
    elif walk.read > size_after:
        yield Finding(
            size_after + 1,
            walk.read,
            f"The book counts {size_after} entries, but there are more, up to entry {walk.read}: "
            "they did not come through its door.",
        )
    kept = walk.peaks_at.get(head.size)
    if kept is not None and tuple(each.hex() for each in kept) != head.peaks:
        first, last = _differing(head, kept)
        yield Finding(
            first, last, f"The tops of the tree that the book keeps are not those of entries {first} to {last}."
        )


def _differing(head: BookHead, kept: Sequence[bytes]) -> tuple[int, int]:
    """The entries under the first top that differs."""
    start = 0
    tops = zip(kept, (*head.peaks, *[""] * len(kept)), strict=False)
    for bit, (mine, theirs) in zip(_bits(head.size), tops, strict=False):
        if mine.hex() != theirs:
            return start + 1, start + bit
        start += bit
    return 1, head.size


def _bits(size: int) -> Iterator[int]:
    return (1 << bit for bit in reversed(range(size.bit_length())) if size >> bit & 1)


def _against_checkpoints(walk: _Walk, vouched: list[_Vouched]) -> Iterator[Finding]:
    """Those of one origin prove each other's beginning; those kept elsewhere do not rest on those kept beside."""
    proven = 0
    for each in sorted((one for one in vouched if one.said and one.trusted), key=lambda one: one.size):
        if each.size > walk.read:
            yield Finding(
                proven + 1,
                each.size,
                f"{each.name} vouches for {each.size} entries, but the last one there is entry {walk.read}: some were "
                f"taken away, at the end or after entry {proven}.",
            )
        elif each.size in walk.roots and walk.roots[each.size] != each.root:
            yield Finding(
                proven + 1,
                max(each.size, 1),
                f"{each.name} vouches for other entries than those that are there: something among entries "
                f"{proven + 1} to {each.size} was written anew.",
            )
        elif each.size in walk.roots:
            proven = each.size


@dataclass(frozen=True, slots=True)
class _Vouched:
    """A checkpoint, read; `trouble` is what is wrong with itself."""

    name: str
    said: Checkpoint | None
    trouble: str = ""
    trusted: bool = False
    kept_size: int = 0

    @property
    def size(self) -> int:
        return self.said.size if self.said else self.kept_size

    @property
    def root(self) -> bytes:
        return self.said.root if self.said else b""

    def place(self) -> tuple[int, int]:
        return (max(self.size, 1), max(self.size, 1))

    @classmethod
    def of(cls, kept: KeptCheckpoint, kitchen: str, keys: Collection[bytes]) -> _Vouched:
        name = f"The checkpoint kept at {kept.size} entries"
        read = cls._read(kept.note, name, kitchen, keys, kept_size=kept.size)
        said = read.said
        if said is None or (kept.size, kept.root, kept.signed_at, kept.key_id) == (
            said.size,
            said.root.hex(),
            said.at,
            key_id(said.key),
        ):
            return read
        return cls(name, said, f"{name} does not say the same as its signed note.", read.trusted, kept.size)

    @classmethod
    def of_outside(cls, note: str, kitchen: str, keys: Collection[bytes]) -> _Vouched:
        return cls._read(note, "The checkpoint given", kitchen, keys, kept_size=0)

    @classmethod
    def _read(cls, note: str, name: str, kitchen: str, keys: Collection[bytes], *, kept_size: int) -> _Vouched:
        try:
            said = read_checkpoint(note)
        except PotwrightError as error:
            return cls(name, None, f"{name} cannot be trusted: {error}", kept_size=kept_size)
        if said.kitchen != kitchen:
            return cls(name, said, f"{name} is of the kitchen {said.kitchen!r}.")
        if said.key not in keys:
            key = b64encode(said.key).decode()
            return cls(name, said, f"{name} was signed with a key that is not known here: {key}.")
        return cls(name, said, trusted=True)
