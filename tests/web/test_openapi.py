"""The description of the API: kept beside the pages, complete, and kept to by the answers."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from broodsweep.web import create_app
from broodsweep.web.openapi import written_schema

from .conftest import district, make_desk

LEFT_OUT = re.compile(
    r"/changes|/parcels?$|\.pdf$|/load|/basemap|/export|\.(ics|csv|xlsx|geojson|gpkg|\{kind\})$"
)
EXAMPLES = 6
CHECKS = [
    schemathesis.checks.not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
FIELD = Path(__file__).parents[2] / "field"
KEPT, TYPED = FIELD / "openapi.json", FIELD / "src/api/schema.ts"


def test_the_description_beside_the_pages_is_fresh() -> None:
    """Write it anew with: python -m broodsweep.web.openapi > field/openapi.json"""
    assert KEPT.read_text() == written_schema()


def test_every_operation_is_named_and_described() -> None:
    schema = json.loads(written_schema())
    assert schema["openapi"].startswith("3.1")
    named = [op for path in schema["paths"].values() for op in path.values()]
    assert all(op.get("description") for op in named)
    names = [op["operationId"] for op in named]
    assert len(names) == len(set(names))


def test_the_typed_client_knows_every_shape_and_field() -> None:
    """Write it anew with: npm run types (in field/)."""
    typed = TYPED.read_text()
    schemas = typed[typed.index("    schemas: {") : typed.index("    responses: never;")]
    known: dict[str, set[str]] = {}
    for line in schemas.splitlines():
        if shape := re.match(r" {8}(\w+): ", line):
            known[shape[1]] = set()
            name = shape[1]
        elif given := re.match(r" {12}(\w+)\??:", line):
            known[name].add(given[1])
    wanted = json.loads(KEPT.read_text())["components"]["schemas"]
    assert known.keys() == wanted.keys()
    for shape_name, schema in wanted.items():
        assert known[shape_name] == set(schema.get("properties", {})), shape_name


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return create_app(make_desk(district()), home=tmp_path_factory.mktemp("home"))


def operations() -> list[tuple[str, str]]:
    """List method and path of every operation that answers JSON at once; uploads and files have tests of their own."""
    paths = json.loads(written_schema())["paths"]
    return [
        (method.upper(), path) for path, one in paths.items() for method in one if not LEFT_OUT.search(path)
    ]


@pytest.mark.parametrize(("method", "path"), operations(), ids=" ".join)
def test_no_request_brings_an_answer_outside_the_description(app: Any, method: str, path: str) -> None:
    """Schemathesis makes requests from the description, fitting and unfitting, and checks each answer."""
    schema = schemathesis.openapi.from_dict(json.loads(written_schema()))
    schema.app = app
    operation = schema[path][method]

    @seed(EXAMPLES)
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy())
    def check(case: schemathesis.Case) -> None:
        answer = case.call(headers={"Host": "127.0.0.1"})
        case.validate_response(answer, checks=CHECKS)

    check()
