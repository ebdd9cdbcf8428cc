"""Signing in and out, and one's own password."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse_lazy
from django_htmx.http import HttpResponseClientRedirect

from inventory.models.roles import roles_of
from inventory.views.access import joined, public, signed_in
from inventory.views.who import person_of


@public
class SignIn(auth_views.LoginView):
    template_name = "account/sign_in.html"
    redirect_authenticated_user = True
    extra_context = {"title": "Sign in"}

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """A part of a page asked for after the session ran out must not be filled with this form."""
        htmx = getattr(request, "htmx", None)
        if htmx:
            page = urlsplit(htmx.current_url_abs_path or "/").path
            return HttpResponseClientRedirect(f"{request.path}?next={page}")
        return super().get(request, *args, **kwargs)

    def form_valid(self, form: Any) -> HttpResponse:
        answer = super().form_valid(form)
        person_of(self.request)
        return answer


@public
class SignOut(auth_views.LogoutView):
    pass


@signed_in
class ChangePassword(auth_views.PasswordChangeView):
    template_name = "account/password.html"
    success_url = reverse_lazy("board")
    extra_context = {"title": "Your password"}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        words = joined(sorted(role.label for role in roles_of(self.request.user)), "and")
        return super().get_context_data(role_words=words, **kwargs)

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, "Your password is changed. Other phones signed in as you must sign in again.")
        return super().form_valid(form)


def locked_out(request: HttpRequest, _response: HttpResponse | None, credentials: dict | None) -> HttpResponse:
    """Shown by django-axes after too many wrong passwords for one name from one address."""
    context = {"title": "Sign-in is paused", "name": (credentials or {}).get("username", "")}
    return render(request, "account/locked_out.html", context, status=429)
