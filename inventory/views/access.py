"""Who may open a page and who may write through it.

Every view carries one of three marks, and a system check refuses to start without:

    @allow(Role.MANAGER, Role.PLANNER)                     these roles may read and write
    @allow(Role.HAND, Role.MANAGER, write=[Role.MANAGER])  both may look, only the manager may post
    @signed_in                                             anyone with an account
    @public                                                anyone at all

The marks work on functions and on view classes alike. Mark the class that stands in the URL configuration; a
subclass inherits the mark of its parent, so mark the subclass too only to narrow it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.checks import CheckMessage, Error
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, URLPattern, URLResolver, get_resolver, resolve, reverse
from django.utils.decorators import method_decorator

from inventory.models.roles import Role, roles_of

READING = frozenset({"GET", "HEAD", "OPTIONS"})
# Pages of libraries that keep their own permissions; the admin lets in staff only.
THIRD_PARTY_NAMESPACES = frozenset({"admin"})


def allow(*roles: Role, write: Iterable[Role] | None = None) -> Callable[[Any], Any]:
    readers = frozenset(roles)
    writers = readers if write is None else frozenset(write)
    if not readers or not writers <= readers:
        raise ValueError("Name the roles that may look, and let only some of those write.")

    def decorate(view: Any) -> Any:
        if isinstance(view, type):
            return method_decorator(decorate, name="dispatch")(view)

        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            needed = readers if request.method in READING else writers
            if roles_of(request.user) & needed:
                return view(request, *args, **kwargs)
            return refuse(request, needed)

        guarded.allowed_roles = readers  # type: ignore[attr-defined]
        guarded.write_roles = writers  # type: ignore[attr-defined]
        return guarded

    return decorate


def signed_in(view: Any) -> Any:
    """For anyone with an account, with or without a role."""
    if isinstance(view, type):
        return method_decorator(signed_in, name="dispatch")(view)

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return view(request, *args, **kwargs)

    guarded.allowed_roles = guarded.write_roles = frozenset(Role)  # type: ignore[attr-defined]
    guarded.any_account = True  # type: ignore[attr-defined]
    return guarded


def public(view: Any) -> Any:
    """For anyone, signed in or not. Say nothing secret there."""
    if isinstance(view, type):
        return method_decorator(public, name="dispatch")(view)

    @wraps(view)
    def opened(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return view(request, *args, **kwargs)

    opened.is_public = True  # type: ignore[attr-defined]
    return login_not_required(opened)


def refuse(request: HttpRequest, needed: Iterable[Role], sentence: str = "") -> HttpResponse:
    """Our own 403: says who may, and who is asking."""
    context = {
        "title": "Not with this sign-in",
        "who_may": joined(sorted(f"the {role.label}" for role in needed), "or"),
        "roles": joined(sorted(role.label for role in roles_of(request.user)), "and"),
        "sentence": sentence,
    }
    return render(request, "errors/403.html", context, status=403)


def may(user: Any, url_name: str, *args: Any, writing: bool = False, **kwargs: Any) -> bool:
    """May this user open (or post to) the page of that name? A name that does not exist is a plain no."""
    path = reverse_or_none(url_name, *args, **kwargs)
    return path is not None and admits(user, resolve(path).func, writing=writing)


def admits(user: Any, view: Any, *, writing: bool = False) -> bool:
    if getattr(view, "is_public", False):
        return True
    if not user.is_authenticated:
        return False
    if getattr(view, "any_account", False):
        return True
    marked: frozenset[Role] = getattr(view, "write_roles" if writing else "allowed_roles", frozenset())
    return bool(roles_of(user) & marked)


def reverse_or_none(url_name: str, *args: Any, **kwargs: Any) -> str | None:
    try:
        return reverse(url_name, args=args, kwargs=kwargs)
    except NoReverseMatch:
        return None


def every_view(
    resolver: URLResolver | None = None, prefix: str = "", namespace: str = ""
) -> Iterator[tuple[str, str, URLPattern]]:
    """(route, full name, pattern) of every URL there is, third-party namespaces left out."""
    for entry in (resolver or get_resolver()).url_patterns:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLPattern):
            yield route, f"{namespace}{entry.name or ''}", entry
        elif entry.namespace not in THIRD_PARTY_NAMESPACES:
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            yield from every_view(entry, route, inner)


def is_marked(view: Any) -> bool:
    return bool(getattr(view, "is_public", False) or getattr(view, "allowed_roles", None))


def check_every_view_is_marked(**_: Any) -> list[CheckMessage]:
    return [
        Error(
            f"The page at /{route} does not say who may open it.",
            hint="Mark its view with @allow(...), @signed_in or @public from inventory.views.access.",
            id="pourback.E001",
        )
        for route, _name, pattern in every_view()
        if not is_marked(pattern.callback)
    ]


def joined(words: Iterable[str], last: str) -> str:
    """ "a, b or c"."""
    *rest, final = list(words) or [""]
    return f"{', '.join(rest)} {last} {final}" if rest else final
