"""The Merkle tree over a book: one hash that stands for all entries, and short proofs that lead up to it.

Trees of any size are as in RFC 9162, section 2.1: split at the largest power of two below the size. Built from below
that means: pair neighbours, and let an odd last one rise unchanged.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from hashlib import sha256

from production.domain.errors import OutOfRange

EMPTY_ROOT = sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """Hash of one entry.

    Equation: SHA-256(0x00 || data).
    Units: data [no quantities]; returns [no quantities].
    Valid: any bytes.
    Errors: none.
    Source: RFC 9162, section 2.1.1.
    """
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of two subtrees.

    Equation: SHA-256(0x01 || left || right).
    Units: left, right [no quantities]; returns [no quantities].
    Valid: two hashes.
    Errors: none.
    Source: RFC 9162, section 2.1.1.
    """
    return sha256(b"\x01" + left + right).digest()


def peaks_with(peaks: Sequence[bytes], *, size: int, leaf: bytes) -> tuple[bytes, ...]:
    """The tops of the complete trees after one more leaf; work and memory grow with the logarithm of the size.

    Equation: for every trailing one bit of `size`, the last peak and the new tree become one tree.
    Units: peaks [hashes, largest tree first], size [leaves before], leaf [hash]; returns [hashes].
    Valid: one peak per one bit of `size`.
    Errors: OutOfRange when the peaks are not those of a tree of this size.
    Source: RFC 9162, section 2.1.1, read from below.
    """
    if len(peaks) != size.bit_count():
        raise OutOfRange(f"{len(peaks)} tops cannot be those of {size} entries.", numbers={"size": size})
    tops = list(peaks)
    while size & 1:
        leaf = node_hash(tops.pop(), leaf)
        size >>= 1
    return (*tops, leaf)


def root_of_peaks(peaks: Sequence[bytes]) -> bytes:
    """The root over all complete trees.

    Equation: from the smallest tree to the largest, root = node(larger, root); nothing: SHA-256 of nothing.
    Units: peaks [hashes, largest tree first]; returns [hash].
    Valid: any number of peaks.
    Errors: none.
    Source: RFC 9162, section 2.1.1.
    """
    if not peaks:
        return EMPTY_ROOT
    root = peaks[-1]
    for peak in reversed(peaks[:-1]):
        root = node_hash(peak, root)
    return root


class Tree:
    """All nodes over a sequence of leaf hashes, for proofs."""

    def __init__(self, leaves: Sequence[bytes]) -> None:
        self.size = len(leaves)
        self._levels: list[list[bytes]] = [list(leaves)]
        while len(self._levels[-1]) > 1:
            self._levels.append(_level_above(self._levels[-1]))

    def root(self) -> bytes:
        return self._levels[-1][0] if self.size else EMPTY_ROOT

    def inclusion(self, index: int) -> tuple[bytes, ...]:
        """The hashes that lead from leaf `index`, counted from 0, to the root."""
        if not 0 <= index < self.size:
            raise OutOfRange(f"A tree of {self.size} has no leaf {index}.", numbers={"size": self.size})
        return tuple(self._neighbours(index))

    def _neighbours(self, index: int) -> Iterator[bytes]:
        for level in self._levels[:-1]:
            if index ^ 1 < len(level):
                yield level[index ^ 1]
            index >>= 1

    def consistency(self, size: int) -> tuple[bytes, ...]:
        """The hashes that show that the tree of the first `size` leaves is the beginning of this one."""
        if not 0 < size <= self.size:
            raise OutOfRange(f"A tree of {self.size} has no beginning of {size}.", numbers={"size": self.size})
        return tuple(self._subproof(size, 0, self.size, whole=True))

    def _subproof(self, size: int, low: int, high: int, *, whole: bool) -> list[bytes]:
        """SUBPROOF of RFC 9162, section 2.1.4.1, over the leaves from `low` to before `high`."""
        if size == high:
            return [] if whole else [self._over(low, high)]
        middle = low + (1 << (high - low - 1).bit_length() - 1)
        if size <= middle:
            return [*self._subproof(size, low, middle, whole=whole), self._over(middle, high)]
        return [*self._subproof(size, middle, high, whole=False), self._over(low, middle)]

    def _over(self, low: int, high: int) -> bytes:
        level = (high - low - 1).bit_length()
        return self._levels[level][low >> level]


def _level_above(level: list[bytes]) -> list[bytes]:
    above = [node_hash(level[place], level[place + 1]) for place in range(0, len(level) - 1, 2)]
    return above + level[-1:] if len(level) % 2 else above


def verify_inclusion(*, leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether the path leads from the leaf to the root.

    Equation: the steps of the source; every step hashes what is reached so far with the next hash of the path.
    Units: leaf [hash], index [place from 0], size [leaves], path [hashes], root [hash]; returns [no quantities].
    Valid: anything; what does not fit together is not proven.
    Errors: none.
    Source: RFC 9162, section 2.1.3.2.
    """
    if not 0 <= index < size:
        return False
    place, last, reached = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if place & 1 or place == last:
            reached = node_hash(step, reached)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            reached = node_hash(reached, step)
        place, last = place >> 1, last >> 1
    return last == 0 and reached == root


def verify_consistency(
    *, old_size: int, new_size: int, old_root: bytes, new_root: bytes, path: Sequence[bytes]
) -> bool:
    """Whether the older tree is the beginning of the newer one.

    Equation: the steps of the source; one walk arrives at both roots.
    Units: old_size, new_size [leaves], old_root, new_root [hash], path [hashes]; returns [no quantities].
    Valid: anything; what does not fit together is not proven. Nothing is the beginning of everything.
    Errors: none.
    Source: RFC 9162, section 2.1.4.2.
    """
    if old_size == new_size:
        return not path and old_root == new_root
    if old_size == 0:
        return not path and old_root == EMPTY_ROOT and new_size > 0
    if not 0 < old_size < new_size or not path:
        return False
    steps = [old_root, *path] if old_size.bit_count() == 1 else list(path)
    place, last = old_size - 1, new_size - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    old = new = steps[0]
    for step in steps[1:]:
        if last == 0:
            return False
        if place & 1 or place == last:
            old, new = node_hash(step, old), node_hash(step, new)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            new = node_hash(new, step)
        place, last = place >> 1, last >> 1
    return last == 0 and old == old_root and new == new_root
