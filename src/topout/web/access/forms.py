"""Forms of sign-in, the first start and the accounts."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from topout.web.access.codes import start_code

_PASSWORD_HELP = "8 signs or more; 15 or more is better. Any signs."


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


class AccountForm(forms.Form):
    """A new account: its name, the person's name, what it may do, a password."""

    name = forms.CharField(
        label="Name of the account", max_length=150, validators=[User.username_validator],
        help_text="Letters, digits and . - _ without spaces.",
        error_messages={"required": "Write a name for the account.", "max_length": "At most 150 letters."},
    )  # fmt: skip
    person = forms.CharField(
        label="Name of the person", max_length=100, error_messages={"required": "Write the person’s name."}
    )
    password = password_field(
        "Password", help_text=_PASSWORD_HELP, error_messages={"required": "Write a password of 8 signs or more."}
    )
    role = forms.ChoiceField(
        label="May", choices=[("technician", "do everything at the bench"), ("owner", "that, and keep the accounts")],
        initial="technician", error_messages={"required": "Say what the account may do.", "invalid_choice": "Choose one of the two."},
    )  # fmt: skip

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"])
        if User.objects.filter(username__iexact=name).exists():
            raise ValidationError(f"There is an account {name} already. Choose another name.")
        return name

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("password"):
            try:
                validate_password(
                    data["password"], User(username=data.get("name", ""), first_name=data.get("person", ""))
                )
            except ValidationError as fault:
                self.add_error("password", fault)
        return data

    def make(self) -> User:
        """The account; call inside a change."""
        data = self.cleaned_data
        return User.objects.create_user(
            data["name"], password=data["password"], first_name=data["person"], is_staff=data.get("role") == "owner"
        )


class StartForm(AccountForm):
    """The first account, with the one-time code of the start command; it is an owner."""

    field_order = ["code", "name", "person", "password"]
    code = forms.CharField(
        label="One-time code", max_length=40, help_text="The start command printed it; it lasts a day.",
        error_messages={"required": "Write the code that the start command printed."},
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["role"]

    def clean_code(self) -> str:
        if start_code(self.cleaned_data["code"]) is None:
            raise ValidationError("This is not the code, or it is used or over. Start again for a new one.")
        return str(self.cleaned_data["code"])

    def make(self) -> User:
        user = super().make()
        user.is_staff = True
        user.save(update_fields=["is_staff"])
        return user


class ChangeAccountForm(forms.Form):
    """What an owner changes of an account; an empty password leaves the old one."""

    person = AccountForm.base_fields["person"]
    role = AccountForm.base_fields["role"]
    active = forms.BooleanField(label="May sign in", required=False)
    password = password_field(
        "New password", required=False, help_text="Left empty, the old one stays. " + _PASSWORD_HELP
    )

    def __init__(self, *args: Any, account: User, by: User, **kwargs: Any) -> None:
        self.account, self.by = account, by
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if self.account == self.by and (not data.get("active") or data.get("role") != "owner"):
            self.add_error(None, "You can’t close or lower your own account. Another owner can.")
        if data.get("password"):
            try:
                validate_password(data["password"], self.account)
            except ValidationError as fault:
                self.add_error("password", fault)
        return data

    def keep(self) -> None:
        """Save it; sessions of a closed account, and after a new password, end at once (Django checks both)."""
        data = self.cleaned_data
        self.account.first_name = data["person"]
        self.account.is_staff = data["role"] == "owner"
        self.account.is_active = data["active"]
        if data["password"]:
            self.account.set_password(data["password"])
        self.account.save()
