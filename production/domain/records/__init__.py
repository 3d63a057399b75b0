"""What really happened: readings, verdicts on cooling logs, what may be done about them."""

from production.domain.records.digest import Digest, digest, digest_from_json, digest_to_json
from production.domain.records.readings import Evidence, Reading, as_known_at, entered_late, parse_temp
from production.domain.records.verdicts import StageVerdict, State, Verdict, judge, judge_digest, worst

__all__ = [
    "Digest",
    "Evidence",
    "Reading",
    "StageVerdict",
    "State",
    "Verdict",
    "as_known_at",
    "digest",
    "digest_from_json",
    "digest_to_json",
    "entered_late",
    "judge",
    "judge_digest",
    "parse_temp",
    "worst",
]
