"""Signing in and out, the first account, a password by one-time code, and one's own password."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from topout.web.access import codes, hashing, signin
from topout.web.access.change import saved_before, writes
from topout.web.access.forms import CodeForm, OwnPasswordForm, SignInForm, StartForm
from topout.web.onward import here_alone

NOT_TOGETHER = "Name and password don’t belong together. Look at both again."


def _onward(request: HttpRequest) -> str:
    return here_alone(request, request.POST.get("next") or request.GET.get("next") or "/") or "/"


def _looked_at(request: HttpRequest, name: str, password: str) -> tuple[User | None, str]:
    """The person whose name and password these are; None with the sentence that says why not.

    Who has to wait takes no turn of those who need not: a flood from one place holds nobody else up.
    """
    mark = signin.seen_from(request, name)
    wait = signin.wait_s(name, mark)
    if not wait:
        with hashing.turn(known=not mark.startswith(signin.STRANGE)) as got:
            if not got:
                return None, "Many people sign in at this moment. Try again in a few seconds."
            wait = signin.claim(name, mark)
            user = None if wait else authenticate(request, username=name, password=password)
    if wait:
        return (
            None,
            f"Too many wrong passwords. Wait {wait} s, then try again. A one-time code from the owner works at once.",
        )
    if not isinstance(user, User):
        return None, NOT_TOGETHER
    signin.right(name, mark)
    return user, ""


def _in(request: HttpRequest, user: User, response: HttpResponse) -> HttpResponse:
    """Sign the person in, and let this device be known to the account."""
    mark = signin.device(request, user.username)
    login(request, user)
    signin.know(response, user.username, mark, request.is_secure())
    return response


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Name and password, with a delay that grows after wrong ones."""
    form = SignInForm(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST" and form.is_valid():
        user, why_not = _looked_at(request, form.cleaned_data["name"], form.cleaned_data["password"])
        if user is not None:
            return _in(request, user, HttpResponseRedirect(_onward(request)))
        form.add_error(None, why_not)
        status = 403 if why_not == NOT_TOGETHER else 429
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
    """Make the first account with the one-time code, and go on to the workshop's questions; then there is nothing here."""
    if User.objects.exists():
        return redirect("sign-in") if request.method != "POST" else render(request, "access/started.html", status=403)
    form = StartForm(request.POST if request.method == "POST" else None, initial={"code": request.GET.get("code", "")})
    if request.method == "POST" and form.is_valid():
        code = codes.start_code(form.cleaned_data["code"])
        assert code is not None  # the form looked, in the same transaction
        codes.use(code)
        return _in(request, form.make(), redirect("workshop"))
    return render(request, "access/start.html", {"form": form}, status=200 if not form.errors else 422)


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
@writes
def code(request: HttpRequest) -> HttpResponse:
    """Set a password with a one-time code and be signed in; every session of before ends (its hash is another)."""
    form = CodeForm(request.POST if request.method == "POST" else None, initial={"code": request.GET.get("code", "")})
    if request.method == "POST" and form.is_valid():
        assert form.found is not None and form.found.user is not None  # the form looked, in the same transaction
        user = form.found.user
        codes.use(form.found)
        user.set_password(form.cleaned_data["password"])
        user.save(update_fields=["password"])
        messages.success(request, f"You are signed in as {user.username}. Sign in with this password from now on.")
        return _in(request, user, HttpResponseRedirect("/"))
    return render(request, "access/code.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def password(request: HttpRequest) -> HttpResponse:
    """One's own password; other devices that are signed in with the old one are out.

    The old password is looked at before the change begins: a wrong try counts, and what the change refuses saves nothing.
    """
    assert isinstance(request.user, User)
    form = OwnPasswordForm(request.POST if request.method == "POST" else None, user=request.user)
    if request.method == "POST" and form.is_valid() and not saved_before(request):
        user, why_not = _looked_at(request, request.user.username, form.cleaned_data["old"])
        if user is None:
            own = "This is not the password that you sign in with now."
            form.add_error("old", own if why_not == NOT_TOGETHER else why_not)
    return _own_password(request, form)


@writes
def _own_password(request: HttpRequest, form: OwnPasswordForm) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        form.user.set_password(form.cleaned_data["password"])
        form.user.save(update_fields=["password"])
        update_session_auth_hash(request, form.user)
        messages.success(request, "Your password is changed. On other devices, sign in with the new one.")
        return redirect("bench")
    return render(request, "access/password.html", {"form": form}, status=422 if form.errors else 200)
