"""The forms of the kitchen floor: entries in, answers out."""

from __future__ import annotations

from rest_framework import serializers

from api.planning import MomentField
from api.serializers import Out

OUTCOMES = ("kept", "known", "questioned", "refused")


class EntryBody(Out):
    """One record; a broken one is refused in its own answer and stops no other."""

    key = serializers.CharField(max_length=80, help_text="chosen by the sender: sent again, kept once")
    kind = serializers.CharField(max_length=40)
    subject = serializers.CharField(max_length=160, help_text="run/…, cooling/…, lot/…")
    content = serializers.DictField(help_text="amounts as text with their unit; no decimal numbers")
    happened_at = serializers.DateTimeField(help_text="by the clock of the sender, with its offset")
    corrects = serializers.CharField(required=False, allow_null=True, help_text="key of the entry that this corrects")
    reason = serializers.CharField(required=False, allow_blank=True, max_length=300, help_text="of a correction")


class EntriesBody(Out):
    device_now = MomentField(required=False, help_text="the sender's clock now, so that a wrong one is noticed")
    entries = EntryBody(many=True)


class AnswerOut(Out):
    key = serializers.CharField(allow_blank=True)
    outcome = serializers.ChoiceField(OUTCOMES, help_text="questioned: kept, but somebody must look")
    number = serializers.IntegerField(allow_null=True)
    code = serializers.CharField(allow_blank=True)
    sentence = serializers.CharField(allow_blank=True)
    remedy = serializers.CharField(allow_blank=True)


class EntriesOut(Out):
    server_now = serializers.DateTimeField()
    device_offset_s = serializers.IntegerField(help_text="how far the sender's clock is behind")
    notice = serializers.CharField(allow_blank=True, help_text="about a clock that is wrong")
    answers = AnswerOut(many=True)
