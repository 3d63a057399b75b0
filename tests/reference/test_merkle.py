"""Published vectors of the canonical form, the tree and the signature, and a second way to work out the tree.

Sources: RFC 8785 sections 3.2.2 to 3.2.4 (sample and its bytes; order of keys); RFC 8032 section 7.1, tests 1 to 3;
for the tree the values of the Certificate Transparency project's own tests for RFC 6962, whose hashing RFC 9162 keeps.
They are given from memory and were found to agree with several reprints; the RFCs themselves were not at hand.
RFC 9162 prints no numbers: its recursive definitions stand below and are held against the tree of the house.
"""

from __future__ import annotations

import json
from base64 import b64encode
from hashlib import sha256

import pytest

from production.domain.ledger import (
    SignerKey,
    Tree,
    canonical_bytes,
    leaf_hash,
    peaks_with,
    root_of_peaks,
    verify_consistency,
    verify_inclusion,
)

ENTRIES = [
    bytes.fromhex(each)
    for each in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
NODE_0 = "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"
NODE_1 = "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"
NODE_2_3 = "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"
NODE_4 = "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"
NODE_4_5 = "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"
NODE_6_7 = "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"
NODE_4_7 = "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"
INCLUSION = [
    (0, 1, []),
    (0, 8, [NODE_1, NODE_2_3, NODE_4_7]),
    (5, 8, [NODE_4, NODE_6_7, ROOTS[4]]),
    (2, 3, [ROOTS[2]]),
    (1, 5, [NODE_0, NODE_2_3, NODE_4]),
]
CONSISTENCY = [
    (1, 1, []),
    (1, 8, [NODE_1, NODE_2_3, NODE_4_7]),
    (6, 8, [NODE_4_5, NODE_6_7, ROOTS[4]]),
    (2, 5, [NODE_2_3, NODE_4]),
]


def leaves(count: int) -> list[bytes]:
    return [leaf_hash(each) for each in ENTRIES[:count]]


def mth(data: list[bytes]) -> bytes:
    """MTH of RFC 9162, section 2.1.1, word for word."""
    if not data:
        return sha256(b"").digest()
    if len(data) == 1:
        return sha256(b"\x00" + data[0]).digest()
    k = split(len(data))
    return sha256(b"\x01" + mth(data[:k]) + mth(data[k:])).digest()


def split(n: int) -> int:
    """The largest power of two smaller than n."""
    k = 1
    while 2 * k < n:
        k *= 2
    return k


def path(m: int, data: list[bytes]) -> list[bytes]:
    """PATH of section 2.1.3.1."""
    if len(data) == 1:
        return []
    k = split(len(data))
    if m < k:
        return [*path(m, data[:k]), mth(data[k:])]
    return [*path(m - k, data[k:]), mth(data[:k])]


def subproof(m: int, data: list[bytes], b: bool) -> list[bytes]:
    """SUBPROOF of section 2.1.4.1."""
    n = len(data)
    if m == n:
        return [] if b else [mth(data)]
    k = split(n)
    if m <= k:
        return [*subproof(m, data[:k], b), mth(data[k:])]
    return [*subproof(m - k, data[k:], False), mth(data[:k])]


@pytest.mark.parametrize("size", range(9))
def test_the_roots_are_the_published_ones(size: int) -> None:
    assert Tree(leaves(size)).root().hex() == ROOTS[size]
    peaks: tuple[bytes, ...] = ()
    for place, leaf in enumerate(leaves(size)):
        peaks = peaks_with(peaks, size=place, leaf=leaf)
    assert root_of_peaks(peaks).hex() == ROOTS[size]


@pytest.mark.parametrize(("index", "size", "expected"), INCLUSION)
def test_the_inclusion_proofs_are_the_published_ones(index: int, size: int, expected: list[str]) -> None:
    proof = Tree(leaves(size)).inclusion(index)
    assert [each.hex() for each in proof] == expected
    root = bytes.fromhex(ROOTS[size])
    assert verify_inclusion(leaf=leaves(8)[index], index=index, size=size, path=proof, root=root)


@pytest.mark.parametrize(("old", "new", "expected"), CONSISTENCY)
def test_the_consistency_proofs_are_the_published_ones(old: int, new: int, expected: list[str]) -> None:
    proof = Tree(leaves(new)).consistency(old)
    assert [each.hex() for each in proof] == expected
    old_root, new_root = bytes.fromhex(ROOTS[old]), bytes.fromhex(ROOTS[new])
    assert verify_consistency(old_size=old, new_size=new, old_root=old_root, new_root=new_root, path=proof)


@pytest.mark.parametrize("size", [*range(1, 34), 63, 64, 65])
def test_every_tree_and_proof_is_what_the_definitions_of_the_rfc_say(size: int) -> None:
    data = [bytes([place, size]) for place in range(size)]
    tree = Tree([leaf_hash(each) for each in data])
    assert tree.root() == mth(data)
    for place in range(size):
        proof = tree.inclusion(place)
        assert list(proof) == path(place, data)
        assert verify_inclusion(leaf=leaf_hash(data[place]), index=place, size=size, path=proof, root=tree.root())
    for old in range(1, size + 1):
        proof = tree.consistency(old)
        assert list(proof) == subproof(old, data, True)
        assert verify_consistency(
            old_size=old, new_size=size, old_root=mth(data[:old]), new_root=tree.root(), path=proof
        )


SAMPLE = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
SAMPLE_BYTES = """
7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 75 65 2c 66 61 6c 73 65 5d 2c 22 6e 75 6d 62 65 72 73
22 3a 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31 65 2b 33 30 2c 34 2e 35 2c 30 2e 30 30 32 2c 31
65 2d 32 37 5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c
22 2f 22 7d
"""
KEYS = {
    "\u20ac": "Euro Sign",
    "\r": "Carriage Return",
    "\ufb33": "Hebrew Letter Dalet With Dagesh",
    "1": "One",
    "\U0001f600": "Emoji: Grinning Face",
    "\u0080": "Control",
    "\u00f6": "Latin Small Letter O With Diaeresis",
}
KEYS_IN_ORDER = [
    "Carriage Return",
    "One",
    "Control",
    "Latin Small Letter O With Diaeresis",
    "Euro Sign",
    "Emoji: Grinning Face",
    "Hebrew Letter Dalet With Dagesh",
]


def test_the_canonical_form_of_the_published_sample_is_the_published_bytes() -> None:
    assert canonical_bytes(json.loads(SAMPLE)) == bytes.fromhex(SAMPLE_BYTES)


def test_keys_stand_in_the_published_order() -> None:
    assert list(json.loads(canonical_bytes(KEYS)).values()) == KEYS_IN_ORDER


SIGNATURES = [
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
]


@pytest.mark.parametrize(("secret", "public", "message", "signature"), SIGNATURES)
def test_keys_and_signatures_are_the_published_ones(secret: str, public: str, message: str, signature: str) -> None:
    signer = SignerKey.read(b64encode(bytes.fromhex(secret)).decode())
    assert signer.key.hex() == public
    assert signer.sign(bytes.fromhex(message)).hex() == signature
