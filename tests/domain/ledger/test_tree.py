"""Proofs that prove, and everything else that does not."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from production.domain.errors import OutOfRange
from production.domain.ledger import (
    Tree,
    leaf_hash,
    peaks_with,
    root_of_peaks,
    verify_consistency,
    verify_inclusion,
)

SIZES = st.integers(1, 70)


def leaves(count: int) -> list[bytes]:
    return [leaf_hash(f"entry {place}".encode()) for place in range(count)]


@given(SIZES, st.data())
def test_an_inclusion_proof_proves_its_leaf_at_its_place_and_nothing_else(size: int, data: st.DataObject) -> None:
    tree = Tree(leaves(size))
    place = data.draw(st.integers(0, size - 1))
    path = list(tree.inclusion(place))
    said: dict[str, Any] = {
        "leaf": leaves(size)[place],
        "index": place,
        "size": size,
        "path": path,
        "root": tree.root(),
    }
    assert verify_inclusion(**said)
    assert not verify_inclusion(**said | {"leaf": leaf_hash(b"another")})
    assert not verify_inclusion(**said | {"index": size})
    assert not verify_inclusion(**said | {"index": -1})
    assert not verify_inclusion(**said | {"root": leaf_hash(b"another")})
    assert not verify_inclusion(**said | {"path": [*path, path[-1] if path else b"x" * 32]})
    if path:
        assert not verify_inclusion(**said | {"path": path[:-1]})
        assert not verify_inclusion(**said | {"path": [*path[:-1], leaf_hash(b"another")]})
        other = data.draw(st.integers(0, size - 1))
        assume(other != place)
        assert not verify_inclusion(**said | {"index": other})


@given(SIZES, SIZES, st.data())
def test_a_consistency_proof_proves_that_nothing_was_written_anew(one: int, two: int, data: st.DataObject) -> None:
    old, new = sorted((one, two))
    tree, before = Tree(leaves(new)), Tree(leaves(old))
    path = list(tree.consistency(old))
    said: dict[str, Any] = {
        "old_size": old,
        "new_size": new,
        "old_root": before.root(),
        "new_root": tree.root(),
        "path": path,
    }
    assert verify_consistency(**said)
    rewritten = leaves(old)
    rewritten[data.draw(st.integers(0, old - 1))] = leaf_hash(b"written anew")
    assert not verify_consistency(**said | {"old_root": Tree(rewritten).root()})
    assert not verify_consistency(**said | {"new_root": leaf_hash(b"another")})
    assert not verify_consistency(**said | {"path": [*path, leaf_hash(b"more")]})
    if path:
        assert not verify_consistency(**said | {"path": path[:-1]})
        assert not verify_consistency(**said | {"path": []})


def test_nothing_is_the_beginning_of_everything_and_nothing_shrinks() -> None:
    empty, tree = Tree([]), Tree(leaves(3))
    said: dict[str, Any] = {"old_root": empty.root(), "new_root": tree.root(), "path": []}
    assert verify_consistency(old_size=0, new_size=3, **said)
    assert not verify_consistency(old_size=0, new_size=3, **said | {"old_root": tree.root()})
    assert not verify_consistency(old_size=3, new_size=2, **said)


@given(st.integers(0, 200))
def test_the_tops_alone_give_the_same_root(size: int) -> None:
    peaks: tuple[bytes, ...] = ()
    for place, leaf in enumerate(leaves(size)):
        peaks = peaks_with(peaks, size=place, leaf=leaf)
    assert len(peaks) == size.bit_count()
    assert root_of_peaks(peaks) == Tree(leaves(size)).root()


def test_what_cannot_be_is_refused() -> None:
    tree = Tree(leaves(5))
    with pytest.raises(OutOfRange, match="no leaf 5"):
        tree.inclusion(5)
    for size in (0, 6):
        with pytest.raises(OutOfRange, match="no beginning"):
            tree.consistency(size)
    with pytest.raises(OutOfRange, match="cannot be those of 3"):
        peaks_with((leaf_hash(b""),), size=3, leaf=leaf_hash(b"a"))
