"""Forms of sign-in, one-time codes, passwords and accounts. Nobody but its owner ever types a password into one."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from topout.web.access.codes import code_of_person, start_code
from topout.web.access.models import OneTimeCode
from topout.web.choices import PickField

_PASSWORD_HELP = "8 characters or more; 15 or more is better. Any characters."


def password_field(label: str, new: bool = True, **kwargs: Any) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "new-password" if new else "current-password"})
    return forms.CharField(label=label, max_length=256, strip=False, widget=widget, **kwargs)


class SignInForm(forms.Form):
    """Name and password; what is wrong with them is said by the view, alike for every name."""

    name = forms.CharField(label="Name of the account", max_length=150)
    password = password_field("Password", new=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].widget.attrs.update(autocomplete="username", autocapitalize="none", spellcheck="false")
        self.fields["name"].error_messages["required"] = "Write the name of the account."
        self.fields["password"].error_messages["required"] = "Write the password."


def check_password(form: forms.Form, field: str, user: User) -> None:
    """Say at the field what is wrong with a new password of this account."""
    typed = form.cleaned_data.get(field)
    if typed:
        try:
            validate_password(typed, user)
        except ValidationError as fault:
            form.add_error(field, fault)


def code_field() -> forms.CharField:
    """The box of a one-time code; what an address carries of it stands there already."""
    box = forms.CharField(
        label="One-time code", max_length=40, help_text="12 letters and digits; it works once and lasts a day.",
        error_messages={"required": "Write the one-time code."},
    )  # fmt: skip
    box.widget.attrs.update(autocomplete="off", autocapitalize="characters", spellcheck="false")
    box.widget.attrs["class"] = "code"
    return box


class AccountForm(forms.Form):
    """A new account: its name, the person's name, what it may do. The person sets the password, with a one-time code."""

    name = forms.CharField(
        label="Name of the account", max_length=150, validators=[User.username_validator],
        help_text="Letters, digits and . - _ without spaces.",
        error_messages={"required": "Write a name for the account.", "max_length": "At most 150 letters."},
    )  # fmt: skip
    person = forms.CharField(
        label="Name of the person", max_length=100, error_messages={"required": "Write the person’s name."}
    )
    role = PickField(
        label="May", choices=[("technician", "do everything at the bench"), ("owner", "that, and keep the accounts")],
        initial="technician", error_messages={"required": "Say what the account may do.", "invalid_choice": "Choose one of the two."},
    )  # fmt: skip

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        if User.objects.filter(username__iexact=name).exists():
            raise ValidationError(f"There is an account {name} already. Choose another name.")
        return name

    def make(self) -> User:
        """The account, without a password yet; call inside a change."""
        data = self.cleaned_data
        return User.objects.create_user(data["name"], first_name=data["person"], is_staff=data.get("role") == "owner")


class StartForm(AccountForm):
    """The first account, with the one-time code of the start command; it is an owner and sets its password here."""

    field_order = ["code", "name", "person", "password"]
    code = code_field()
    password = password_field(
        "Password", help_text=_PASSWORD_HELP, error_messages={"required": "Write a password of 8 characters or more."}
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["role"]

    def clean_code(self) -> str:
        if start_code(self.cleaned_data["code"]) is None:
            raise ValidationError("This is not the code, or it is used or over. Start again for a new one.")
        return str(self.cleaned_data["code"])

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        check_password(self, "password", User(username=data.get("name", ""), first_name=data.get("person", "")))
        return data

    def make(self) -> User:
        user = super().make()
        user.set_password(self.cleaned_data["password"])
        user.is_staff = True
        user.save(update_fields=["password", "is_staff"])
        return user


class CodeForm(forms.Form):
    """A one-time code and the password that its person wants from now on."""

    code = code_field()
    password = password_field(
        "New password",
        help_text=_PASSWORD_HELP,
        error_messages={"required": "Write a password of 8 characters or more."},
    )
    found: OneTimeCode | None = None

    def clean_code(self) -> str:
        self.found = code_of_person(self.cleaned_data["code"])
        if self.found is None:
            raise ValidationError("This is not the code, or it is used or over. Ask the owner for a new one.")
        return str(self.cleaned_data["code"])

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if self.found is not None and self.found.user is not None:
            check_password(self, "password", self.found.user)
        return data


class OwnPasswordForm(forms.Form):
    """The password as it is and as it shall be; the view looks at the old one, with the delay of signing in."""

    old = password_field(
        "Password now", new=False, error_messages={"required": "Write the password that you sign in with now."}
    )
    password = password_field(
        "New password",
        help_text=_PASSWORD_HELP,
        error_messages={"required": "Write a password of 8 characters or more."},
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        self.user = user
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        check_password(self, "password", self.user)
        return data


class ChangeAccountForm(forms.Form):
    """What an owner changes of an account; its password is not among it."""

    person = AccountForm.base_fields["person"]
    role = AccountForm.base_fields["role"]
    active = forms.BooleanField(label="May sign in", required=False)

    def __init__(self, *args: Any, account: User, by: User, **kwargs: Any) -> None:
        self.account, self.by = account, by
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if self.account == self.by and (not data.get("active") or data.get("role") != "owner"):
            self.add_error(None, "You can’t close or lower your own account. Another owner can.")
        return data

    def keep(self) -> None:
        """Save it; sessions of a closed account end at once (Django looks at each request)."""
        data = self.cleaned_data
        self.account.first_name = data["person"]
        self.account.is_staff = data["role"] == "owner"
        self.account.is_active = data["active"]
        self.account.save()
