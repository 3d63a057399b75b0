"""Changing an order line."""

from __future__ import annotations

from dataclasses import fields

from django import forms

from production.domain import kitchen as domain

_CONTAINERS = next(each for each in fields(domain.OrderLine) if each.name == "containers").metadata


class OrderLineForm(forms.Form):
    """`revision` is the state of the line that the person saw."""

    containers = forms.IntegerField(
        label="Containers",
        min_value=_CONTAINERS["low"],
        max_value=_CONTAINERS["high"],
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "short"}),
        error_messages={"invalid": "Type a whole number of containers, for instance 12."},
    )
    revision = forms.IntegerField(min_value=1, widget=forms.HiddenInput)
