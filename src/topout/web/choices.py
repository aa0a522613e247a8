"""Choices without a native list: a few stand there as plain answers to tap, of many one is found by typing its name."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from topout.web.folding import folded

FEW = 7  # that stand there to be tapped


class Picks(forms.RadioSelect):
    """Answers beside one another, as wide as their words."""

    inline = True


class PickField(forms.ChoiceField):
    """One of a few fixed words."""

    widget = Picks


class _Named:
    """What the two fields below share; `choices` gives key and name of each."""

    choices: Any
    widget: Any
    help_text: Any
    error_messages: Any

    _named: list[tuple[str, str]] | None = None

    def named(self) -> list[tuple[str, str]]:
        """Key and name of each, read once a form."""
        if self._named is None:
            self._named = [(str(key), str(name)) for key, name in self.choices]
        return [each for each in self._named if each[0]]

    def get_bound_field(self, form: forms.BaseForm, name: str) -> Any:
        """The field of one form: with few rows to choose from it is drawn as answers, with many as a box."""
        if not isinstance(
            self.widget, Picks
        ):  # a hidden box carries a key alone: nobody looks through thousands of rows for it
            return super().get_bound_field(form, name)  # type: ignore[misc]
        if len(self.named()) <= FEW:
            self.widget.choices = self._named or []
        else:
            attributes = dict(self.widget.attrs)
            self.widget = forms.TextInput(attributes | {"autocomplete": "off", "spellcheck": "false"})
            self.help_text = self.help_text or "Write its name, or the beginning of it."
        return super().get_bound_field(form, name)  # type: ignore[misc]

    def prepare_value(self, value: Any) -> Any:
        """In a box the name stands, not the key."""
        kept = super().prepare_value(value)  # type: ignore[misc]
        return dict(self.named()).get(str(kept), kept) if isinstance(self.widget, forms.TextInput) else kept

    def has_changed(self, initial: Any, data: Any) -> bool:
        return bool(super().has_changed(initial, self.key_of(str(data or ""))))  # type: ignore[misc]

    def clean(self, value: Any) -> Any:
        return super().clean(self.key_of(str(value or "").strip()))  # type: ignore[misc]

    def key_of(self, typed: str) -> str:
        """The key of what was tapped or typed: a key, a whole name, or the beginning of one name's words alone.

        Raises ValidationError with the names it may be.
        """
        if not typed or isinstance(self.widget, forms.HiddenInput):
            return typed
        named = self.named()
        if typed in dict(named):
            return typed
        wanted = folded(typed)
        exact = [key for key, name in named if folded(name) == wanted]
        if len(exact) == 1:
            return exact[0]
        near = [(key, name) for key, name in named if all(_begins(name, word) for word in wanted.split())]
        if len(near) == 1:
            return near[0][0]
        if not near:
            return typed  # the field's own words for what is not there
        names = ", ".join(name for _, name in near[:FEW])
        raise ValidationError(
            f"“{typed[:40]}” may be {names}{' or others' if len(near) > FEW else ''}. Write one of them whole."
        )


def _begins(name: str, word: str) -> bool:
    return any(part.startswith(word) for part in folded(name).split())


class NamedField(_Named, forms.ChoiceField):
    """One of words that may be many."""

    widget = Picks


class NamedRowField(_Named, forms.ModelChoiceField):  # type: ignore[type-arg]
    """A row of a table by its name. `empty_label` is the answer "none of them" where it need not be said."""

    widget = Picks

    def __init__(
        self, queryset: Any, *, empty_label: str | None = "none", required: bool = True, **kwargs: Any
    ) -> None:
        super().__init__(queryset, required=required, **kwargs)
        self.empty_label = None if required else empty_label  # ModelChoiceField drops it for radio buttons
