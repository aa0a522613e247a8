"""The owner's pages of accounts: who has one, what it may do, and the one-time code with which its person sets a password."""

from __future__ import annotations

import unicodedata

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from topout.web import network
from topout.web.access import codes
from topout.web.access.change import writes
from topout.web.access.forms import AccountForm, ChangeAccountForm
from topout.web.access.gate import only_here, owner_only, person

SHOWN_ONCE = "one-time-code"  # the messages that carry a code: in the browser until its page is drawn, nowhere else


def give_code(request: HttpRequest, account: User) -> None:
    """A new one-time code for the account, shown once on the next page. Call inside a change."""
    assert isinstance(request.user, User)
    plain = codes.grouped(codes.make(account, made_by=request.user))
    messages.info(request, f"{plain} {account.username} {person(account)}", extra_tags=SHOWN_ONCE)


def _others_ask(request: HttpRequest) -> str:
    """The address that another device opens: the one asked for, or that on the network where the asker sits at this computer."""
    own = network.served_addresses(settings.BIND) if only_here(request) and not settings.LOOPBACK else []
    return f"http://{network.in_url(own[0])}:{settings.PORT}" if own else f"{request.scheme}://{request.get_host()}"


def _shown_once(request: HttpRequest) -> list[dict[str, str]]:
    """The codes given just now: account, person, code and the address of the page that takes it."""
    told = []
    for message in messages.get_messages(request):
        if SHOWN_ONCE in message.tags:
            plain, account, name = str(message).split(" ", 2)
            address = f"{_others_ask(request)}{reverse('code')}"
            told.append({"code": plain, "account": account, "person": name, "address": address})
    return told


@require_http_methods(["GET", "HEAD"])
@owner_only
def accounts(request: HttpRequest) -> HttpResponse:
    """Who has an account, and what it may do; codes that were given just now, once."""
    here = settings.LOOPBACK and only_here(request)
    context = {
        "given": _shown_once(request),
        "here_alone": here,
        "accounts": User.objects.order_by("-is_active", "username"),
    }
    return render(request, "access/accounts.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@writes
def account_new(request: HttpRequest) -> HttpResponse:
    form = AccountForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        give_code(request, form.make())
        return redirect("accounts")
    context = {"form": form, "heading": "A new account", "button": "Make the account"}
    return render(request, "access/account.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@writes
def account_change(request: HttpRequest, pk: int) -> HttpResponse:
    account = get_object_or_404(User, pk=pk)
    assert isinstance(request.user, User)
    if request.method == "POST":
        form = ChangeAccountForm(request.POST, account=account, by=request.user)
        if form.is_valid():
            form.keep()
            messages.success(request, f"The account {account.username} is changed.")
            return redirect("accounts")
    else:
        role = "owner" if account.is_staff else "technician"
        now = {"person": person(account), "role": role, "active": account.is_active}
        form = ChangeAccountForm(initial=now, account=account, by=request.user)
    context = {
        "form": form, "heading": f"Account {account.username}", "button": "Save the account", "account": account,
    }  # fmt: skip
    return render(request, "access/account.html", context, status=422 if form.errors else 200)


@owner_only
@require_http_methods(["POST"])
@writes
def account_code(request: HttpRequest, pk: int) -> HttpResponse:
    """A one-time code for a person who has no password yet, or forgot it. The old one works until the code is used."""
    account = get_object_or_404(User, pk=pk, is_active=True)
    give_code(request, account)
    return redirect("accounts")


def make_technicians(request: HttpRequest, names: list[str]) -> None:
    """An account with a one-time code for each person who works here. Call inside a change."""
    for name in names:
        give_code(request, User.objects.create_user(_free_name(name), first_name=name))


def _free_name(person_: str) -> str:
    """A name for the account of a person: the first name in plain letters, with more of the rest while it is taken."""
    plain = unicodedata.normalize("NFKD", person_.casefold()).encode("ascii", "ignore").decode()
    words = ["".join(sign for sign in word if sign.isalnum()) for word in plain.split()]
    words = [word for word in words if word] or ["person"]
    tries = [".".join(words[: nth + 1]) for nth in range(len(words))]
    tries += [f"{tries[-1]}{number}" for number in range(2, 1000)]
    taken = {name.casefold() for name in User.objects.values_list("username", flat=True)}
    return next(each for each in tries if each[:140] not in taken)[:140]
