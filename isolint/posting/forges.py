"""The forges by name: where each is reached, which variables hold its token, and what speaks to it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from isolint.posting import gitea, github, gitlab
from isolint.posting.client import Client, NotDone
from isolint.posting.forge import Forge


class ForgeKind(NamedTuple):
    """One kind of forge. tokens, bases: variables of the environment, the first that is set counts."""

    make: Callable[[Client, str, str], Forge]
    headers: Callable[[str], dict[str, str]]
    tokens: tuple[str, ...]
    bases: tuple[str, ...]
    base: str
    repositories: tuple[str, ...]
    numbers: tuple[str, ...]


FORGES: Mapping[str, ForgeKind] = {
    "github": ForgeKind(
        github.GitHub, github.headers, ("ISOLINT_TOKEN", "GITHUB_TOKEN"), ("GITHUB_API_URL",),
        "https://api.github.com", ("GITHUB_REPOSITORY",), (),
    ),
    "gitlab": ForgeKind(
        gitlab.GitLab, gitlab.headers, ("ISOLINT_TOKEN", "GITLAB_TOKEN"), ("CI_API_V4_URL",),
        "https://gitlab.com/api/v4", ("CI_PROJECT_PATH",), ("CI_MERGE_REQUEST_IID",),
    ),
    "gitea": ForgeKind(
        gitea.Gitea, gitea.headers, ("ISOLINT_TOKEN", "GITEA_TOKEN"), (), "", ("GITHUB_REPOSITORY",), (),
    ),
}  # fmt: skip


def chosen(names: tuple[str, ...], environment: Mapping[str, str]) -> str:
    """The first variable that is set."""
    return next((environment[name] for name in names if environment.get(name)), "")


def base_of(kind: ForgeKind, given: str | None, environment: Mapping[str, str]) -> str:
    """The address of the forge's interface; raise `NotDone` where nobody says it."""
    found = given or chosen(kind.bases, environment) or kind.base
    if not found:
        raise NotDone("the address of the forge is not known", cure="--url https://HOST/api/v1")
    return found
