"""The database itself refuses to change or delete what was written down.

The guards are put up after every migration (production.apps), not by one of them: SQLite makes a table anew when a
column changes, and its triggers go with the old one.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

GUARDED = {
    "production_entry": "An entry of the records is never changed or deleted.",
    "production_checkpoint": "A checkpoint of the records is never changed or deleted.",
}
# SQLite's INSERT OR REPLACE takes a row away without asking the guard of DELETE.
_ROWS_NAMED_BY = {
    "production_entry": "id = NEW.id OR (kitchen_id = NEW.kitchen_id AND (number = NEW.number OR key = NEW.key))",
    "production_checkpoint": "id = NEW.id OR (kitchen_id = NEW.kitchen_id AND size = NEW.size AND key_id = NEW.key_id)",
}
_FUNCTION = """
CREATE OR REPLACE FUNCTION {table}_guard() RETURNS trigger LANGUAGE plpgsql
AS $$ BEGIN RAISE EXCEPTION '{sentence}' USING ERRCODE = 'integrity_constraint_violation'; END $$
"""


def guards_put_up(connection: BaseDatabaseWrapper) -> None:
    """Refuse UPDATE and DELETE, and on PostgreSQL TRUNCATE, on what is append-only; done twice, it stands once."""
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in [each for each in GUARDED if each in tables]:
            for statement in _statements(connection.vendor, table):
                cursor.execute(statement)


def guards_take_down(connection: BaseDatabaseWrapper) -> None:
    """For tests, which empty the tables, and for those who show that a change is found."""
    with connection.cursor() as cursor:
        for table in GUARDED:
            for name in _names(table):
                of_table = f" ON {table}" if connection.vendor == "postgresql" else ""
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}{of_table}")


def guards_standing(connection: BaseDatabaseWrapper) -> bool:
    """Do all of them stand?"""
    postgres = connection.vendor == "postgresql"
    verbs = ("update", "delete", "truncate" if postgres else "replace")
    wanted = {f"{table}_no_{verb}" for table in GUARDED for verb in verbs}
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'"
            if postgres
            else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        )
        return wanted <= {row[0] for row in cursor.fetchall()}


def _names(table: str) -> list[str]:
    return [f"{table}_no_{verb}" for verb in ("update", "delete", "truncate", "replace")]


def _statements(vendor: str, table: str) -> list[str]:
    update, delete, truncate, replace = _names(table)
    if vendor == "postgresql":
        calls = f"EXECUTE FUNCTION {table}_guard()"
        return [
            _FUNCTION.format(table=table, sentence=GUARDED[table]),
            f"CREATE OR REPLACE TRIGGER {update} BEFORE UPDATE ON {table} FOR EACH ROW {calls}",
            f"CREATE OR REPLACE TRIGGER {delete} BEFORE DELETE ON {table} FOR EACH ROW {calls}",
            f"DROP TRIGGER IF EXISTS {truncate} ON {table}",
            f"CREATE TRIGGER {truncate} BEFORE TRUNCATE ON {table} FOR EACH STATEMENT {calls}",
        ]
    there = f"EXISTS (SELECT 1 FROM {table} WHERE {_ROWS_NAMED_BY[table]})"  # noqa: S608  # names of our own
    refused = f"BEGIN SELECT RAISE(ABORT, '{GUARDED[table]}'); END"
    return [
        f"CREATE TRIGGER IF NOT EXISTS {update} BEFORE UPDATE ON {table} {refused}",
        f"CREATE TRIGGER IF NOT EXISTS {delete} BEFORE DELETE ON {table} {refused}",
        f"CREATE TRIGGER IF NOT EXISTS {replace} BEFORE INSERT ON {table} WHEN {there} {refused}",
    ]
