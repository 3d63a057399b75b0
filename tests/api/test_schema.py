"""The description of the API is complete and true, and nothing that fits or breaks it makes the program stumble."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.management import call_command
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.urls import URLPattern
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.urls import urlpatterns
from production.services.plans import plan_request
from production.wsgi import application
from tests.api.conftest import Planned
from tests.conftest import Cast

OPENAPI = "/api/v1/openapi.json"
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
EXAMPLES = 16  # for each operation
KEY = "0123456789abcdef0123456789abcdef01234567"


def test_the_description_is_valid_and_without_warnings() -> None:
    text = io.StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=text)
    assert "openapi: 3" in text.getvalue()


def test_every_address_is_described_with_its_refusals(db: None) -> None:
    described = APIClient().get(OPENAPI).json()
    known = [each for each in urlpatterns if isinstance(each, URLPattern)]
    assert len(described["paths"]) == len(known) - 2  # all but the description itself and what is nowhere
    for path, operations in described["paths"].items():
        for method, operation in operations.items():
            refusals = {status for status in operation["responses"] if status >= "400"}
            if "{kitchen}" in path:
                assert {"401", "404"} <= refusals, (method, path)
                assert method == "get" or "403" in refusals, (method, path)
            if "requestBody" in operation:
                assert {"413", "415"} <= refusals, (method, path)
            for status in refusals:
                assert set(operation["responses"][status]["content"]) == {"application/problem+json"}


@pytest.fixture
def connection_kept() -> Iterator[None]:
    """Requests of a whole application would close the connection that holds the rows of the test."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


def test_nothing_that_fits_or_breaks_the_description_makes_the_program_stumble(
    cast: Cast, planned: Planned, connection_kept: None
) -> None:
    schema = schemathesis.openapi.from_wsgi(OPENAPI, application)
    known = {
        "kitchen": "small",
        "starts_on": "2027-02-01",
        "number": "newest",
        "run": planned.run,
        "key": planned.figure,
        "line": "L1",
        "formula": "poultry",
        "document": planned.sheet.pk,
        "ask": planned.withdrawn.pk,
        "fix": 1,
        "name": "boiling_point_c",
        "job": plan_request(by=cast.manager, week=planned.week),
    }
    answered: dict[str, set[int]] = {}
    for found in schema.get_all_operations():
        operation: Any = found.ok()  # type: ignore[union-attr]
        cases = st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in GenerationMode))

        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            derandomize=True,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=cases, real=st.booleans())
        def send(case: Any, real: bool) -> None:
            if real:
                case.path_parameters = {name: known.get(name, value) for name, value in case.path_parameters.items()}
            Token.objects.get_or_create(user=cast.manager.user, defaults={"key": KEY})
            response = case.call(headers={"Authorization": f"Token {KEY}"})
            case.validate_response(response, checks=CHECKS)
            answered.setdefault(case.operation.label, set()).add(response.status_code)

        send()
    assert len(answered) > 25
    assert sum(any(status < 300 for status in statuses) for statuses in answered.values()) > 20
