"""The book that cannot be rewritten unseen: canonical form, tree of hashes, signed checkpoints, the check of all."""

from production.domain.ledger.book import (
    BookHead,
    Finding,
    KeptCheckpoint,
    KeptEntry,
    check_book,
)
from production.domain.ledger.canonical import canonical_bytes, clean_content, clean_text
from production.domain.ledger.checkpoint import (
    Checkpoint,
    Signer,
    SignerKey,
    checkpoint_note,
    key_id,
    read_checkpoint,
)
from production.domain.ledger.leaf import Statement, leaf_bytes, moment_text
from production.domain.ledger.tree import (
    Tree,
    leaf_hash,
    node_hash,
    peaks_with,
    root_of_peaks,
    verify_consistency,
    verify_inclusion,
)

__all__ = [
    "BookHead",
    "Checkpoint",
    "Finding",
    "KeptCheckpoint",
    "KeptEntry",
    "Signer",
    "SignerKey",
    "Statement",
    "Tree",
    "canonical_bytes",
    "check_book",
    "checkpoint_note",
    "clean_content",
    "clean_text",
    "key_id",
    "leaf_bytes",
    "leaf_hash",
    "moment_text",
    "node_hash",
    "peaks_with",
    "read_checkpoint",
    "root_of_peaks",
    "verify_consistency",
    "verify_inclusion",
]
