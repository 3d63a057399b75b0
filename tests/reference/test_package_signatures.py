"""The package checker's own Ed25519 and tree against published vectors, and against the libraries of the house.

Ed25519: RFC 8032, section 7.1, tests 1 to 3 (from memory; the library `cryptography` makes the same signatures, below).
Tree: the root of no leaves is SHA-256 of nothing, RFC 9162, section 2.1.1.
"""

from __future__ import annotations

from hashlib import sha256
from random import Random

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from production.documents.package.check_package import (
    canonical,
    included,
    leaf_of,
    roots_at,
    signature_holds,
)
from production.domain.ledger import Tree, canonical_bytes

VECTORS = (
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24"
            "655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aee"
            "b00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28d"
            "c027beceea1ec40a"
        ),
    ),
)


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_the_published_signatures_hold_and_nothing_beside_them(
    secret: str, public: str, message: str, signature: str
) -> None:
    key, said, signed = bytes.fromhex(public), bytes.fromhex(message), bytes.fromhex(signature)
    made = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    if made.public_key().public_bytes_raw() == key:
        assert made.sign(said) == signed
    assert signature_holds(key, said, signed)
    assert not signature_holds(key, said + b"!", signed)
    for place in range(0, 64, 7):
        other = bytearray(signed)
        other[place] ^= 1
        assert not signature_holds(key, said, bytes(other))


def test_signatures_of_the_library_hold_and_a_second_form_of_one_does_not() -> None:
    order = 2**252 + 27742317777372353535851937790883648493
    dice = Random(8032)
    for _ in range(25):
        made = Ed25519PrivateKey.from_private_bytes(dice.randbytes(32))
        key, said = made.public_key().public_bytes_raw(), dice.randbytes(dice.randrange(200))
        signed = made.sign(said)
        assert signature_holds(key, said, signed)
        assert not signature_holds(dice.randbytes(32), said, signed)
        again = (int.from_bytes(signed[32:], "little") + order).to_bytes(32, "little")
        assert not signature_holds(key, said, signed[:32] + again), "RFC 8032, section 5.1.7: S is below the order"
    assert not signature_holds(b"", b"", b"")


def test_roots_and_paths_are_those_of_the_house_for_every_size() -> None:
    leaves = [leaf_of(str(number).encode()) for number in range(70)]
    roots = roots_at(leaves, range(71))
    assert roots[0] == sha256(b"").digest()
    for size in range(1, 71):
        tree = Tree(leaves[:size])
        assert roots[size] == tree.root()
        for index in range(size):
            path = tree.inclusion(index)
            assert included(leaves[index], index, size, path, roots[size])
            assert not included(leaves[index], (index + 1) % (size + 1), size, path, roots[size]) or size == 0
            assert not included(leaves[index], index, size, (*path, leaves[0]), roots[size])
    assert not included(leaves[0], 1, 1, (), leaves[0])


def test_the_canonical_form_is_that_of_the_library() -> None:
    strange = {
        "a": '\u0000\u001f\u007f"\\/é€𝄞\u2028',
        "Z": [1, -5, 2**53 - 1, True, False, None],
        "_": {"b": "", "aa": []},
    }
    assert canonical(strange) == canonical_bytes(strange)
