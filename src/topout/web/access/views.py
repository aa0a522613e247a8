"""Sign-in, sign-out, the first start, and the owner's page of accounts."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST

from topout.web.access import hashing, signin
from topout.web.access.change import writes
from topout.web.access.codes import start_code
from topout.web.access.forms import AccountForm, ChangeAccountForm, SignInForm, StartForm
from topout.web.access.gate import owner_only, person


def _onward(request: HttpRequest) -> str:
    wanted = request.POST.get("next") or request.GET.get("next") or "/"
    safe = url_has_allowed_host_and_scheme(wanted, allowed_hosts=None, require_https=request.is_secure())
    return wanted if safe and wanted.startswith("/") else "/"


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Name and password, with a delay that grows after wrong ones."""
    form = SignInForm(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST" and form.is_valid():
        name = form.cleaned_data["name"]
        device = signin.device(request, name)
        with hashing.turn(known=bool(device)) as got:
            wait = signin.claim(name, device) if got else 0
            looked_at = got and not wait
            user = authenticate(request, username=name, password=form.cleaned_data["password"]) if looked_at else None
        if user is not None:
            signin.right(name, device)
            login(request, user)
            response = HttpResponseRedirect(_onward(request))
            signin.know(response, name, device, request.is_secure())
            return response
        status = 403 if looked_at else 429
        if not got:
            form.add_error(None, "Many people sign in at this moment. Try again in a few seconds.")
        elif wait:
            form.add_error(None, f"Too many wrong passwords. Wait {wait} s, then try again.")
        else:
            form.add_error(None, "Name and password don’t belong together. Look at both again.")
    context = {"form": form, "next": _onward(request), "no_account": not User.objects.exists()}
    return render(request, "access/sign_in.html", context, status=status)


@login_not_required
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the session; what was stored in the browser for it goes too."""
    logout(request)
    response = redirect("sign-in")
    response.headers["Clear-Site-Data"] = '"cache", "storage"'
    return response


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
@writes
def start(request: HttpRequest) -> HttpResponse:
    """Make the first account with the one-time code; afterwards there is nothing here."""
    if User.objects.exists():
        return redirect("sign-in") if request.method != "POST" else render(request, "access/started.html", status=403)
    form = StartForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        code = start_code(form.cleaned_data["code"])
        assert code is not None  # the form looked, in the same transaction
        form.make()
        code.used_at = request.change.at  # type: ignore[attr-defined]
        code.save()
        messages.success(request, "The account is made. Sign in with it.")
        return redirect("sign-in")
    return render(request, "access/start.html", {"form": form}, status=200 if not form.errors else 422)


@require_http_methods(["GET", "HEAD"])
@owner_only
def accounts(request: HttpRequest) -> HttpResponse:
    """Who has an account, and what it may do."""
    return render(request, "access/accounts.html", {"accounts": User.objects.order_by("-is_active", "username")})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@writes
def account_new(request: HttpRequest) -> HttpResponse:
    form = AccountForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        user = form.make()
        messages.success(request, f"{person(user)} has an account now: {user.username}.")
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
    context = {"form": form, "heading": f"Account {account.username}", "button": "Save the account"}
    return render(request, "access/account.html", context, status=422 if form.errors else 200)
