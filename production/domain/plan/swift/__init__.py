"""The search for runs in machine code: the same kitchen in arrays and plain loops."""

from __future__ import annotations


def warm() -> None:
    """Compile the search for this machine, if nobody has yet, before somebody waits for a plan.

    Equation: compile_all.
    Units: no quantities.
    Valid: any machine.
    Errors: none.
    Source: own construction.
    """
    from production.domain.plan.swift.warming import compile_all

    compile_all()
