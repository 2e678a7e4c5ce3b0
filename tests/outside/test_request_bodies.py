"""What is sent to GitHub against the description of its interface that it publishes."""

from __future__ import annotations

import json
import re
import subprocess
import tarfile
from typing import Any

import jsonschema
import pytest

from tests.posting.fakes import FakeGitHub
from tests.posting.posts import item, posted, review, world

pytestmark = pytest.mark.outside

PACKAGE = "@octokit/openapi"
DESCRIPTION = "package/generated/api.github.com.deref.json"


@pytest.fixture(scope="module")
def paths(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The paths of the interface with their schemas, from the package registry."""
    folder = tmp_path_factory.mktemp("openapi")
    subprocess.run(["npm", "pack", "--silent", PACKAGE], cwd=folder, check=True, capture_output=True, timeout=180)
    (packed,) = folder.glob("*.tgz")
    with tarfile.open(packed) as archive:
        held = archive.extractfile(DESCRIPTION)
        assert held is not None
        found: dict[str, Any] = json.load(held)["paths"]
    return found


def operation(paths: dict[str, Any], method: str, path: str) -> dict[str, Any]:
    """The description of a request; of several that fit the one with the fewest parameters."""
    fitting = []
    for template, methods in paths.items():
        pattern = re.sub(r"\\\{[^}]*\\\}", "[^/]+", re.escape(template))
        if method.lower() in methods and re.fullmatch(pattern, path):
            fitting.append((template.count("{"), template))
    assert fitting, f"{method} {path} is not described"
    found: dict[str, Any] = paths[min(fitting)[1]][method.lower()]
    return found


def test_every_request_is_described_and_every_body_is_as_it_is_described(paths: dict[str, Any]) -> None:
    made = world()
    fake = FakeGitHub(made)
    found = item("XU1", 4), item("XU2", 5), item("XU3", 99)
    posted(fake, review(*found), "github")
    made.faults = ["422"]
    posted(fake, review(*found, item("XU4", 6)), "github")  # comment by comment, where a review is refused
    posted(fake, review(item("XU1", 4, "fixed", 1.45)), "github")
    made.add("isolint-bot", made.mine()[0].body, "boards/a.cir", 4)
    posted(fake, review(item("XU1", 4)), "github")
    seen = set()
    for method, path, body in made.bodies:
        if path == "/graphql":
            continue
        described = operation(paths, method, path)
        seen.add((method, re.sub(r"\d+", "N", path)))
        if body is not None:
            assert isinstance(body, dict)
            schema = described["requestBody"]["content"]["application/json"]["schema"]
            jsonschema.Draft202012Validator(schema).validate(body)
            unknown = set(body) - set(schema.get("properties", body))
            assert not unknown, (path, unknown)
    assert {method for method, _ in seen} >= {"GET", "POST", "PATCH", "DELETE"} and len(seen) >= 8
