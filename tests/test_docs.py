"""What the documents say is held against the program."""

from __future__ import annotations

import os
import re
from pathlib import Path

from django.core.management import get_commands

from tests.error_codes import BEGIN, END, table

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
SETTING = re.compile(r"\bPOTWRIGHT_[A-Z][A-Z_]*\b")


def own_commands() -> set[str]:
    return {name for name, app in get_commands().items() if app == "production"}


def commands_told(text: str) -> set[str]:
    return set(re.findall(r"manage\.py ([a-z_]+)", text))


def settings_read() -> set[str]:
    paths = [*(ROOT / "production").rglob("*.py"), ROOT / "deploy" / "start", ROOT / "deploy" / "entrypoint.sh"]
    names = {name for path in paths for name in SETTING.findall(path.read_text())}
    return {name for name in names if not name.startswith("POTWRIGHT_TEST_")}


def test_every_script_the_documents_name_is_there_and_can_be_run() -> None:
    told = set(re.findall(r"(?<![\w/.])(?:deploy|\.ci)/[a-z]+(?![\w./-])", README + DEVELOPERS))
    assert {"deploy/start", "deploy/test"} <= told
    assert [name for name in sorted(told) if not os.access(ROOT / name, os.X_OK)] == []


def test_every_command_the_documents_name_exists() -> None:
    told = commands_told(README + DEVELOPERS)
    assert told
    assert sorted(told - set(get_commands())) == []


def test_every_command_of_ours_is_told_in_the_documents() -> None:
    assert sorted(own_commands() - commands_told(README + DEVELOPERS)) == []


def test_every_setting_is_told_in_the_example_and_none_that_is_not_read() -> None:
    told = set(SETTING.findall((ROOT / "deploy" / "env.example").read_text()))
    assert told == settings_read()


def test_the_table_of_error_codes_is_the_one_in_the_source() -> None:
    told = DEVELOPERS.split(BEGIN)[1].split(END)[0].strip()
    assert told == table(), "renew it with: python -m tests.error_codes"


def test_every_file_the_documents_link_to_is_there() -> None:
    for name, text in (("README.md", README), ("DEVELOPERS.md", DEVELOPERS)):
        links = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link]
        missing = [link for link in links if not (ROOT / link).exists()]
        assert missing == [], name
