"""The forms of readings in bulk: a gateway's readings in, an answer for each out."""

from __future__ import annotations

from rest_framework import serializers

from api.floor import AnswerOut
from api.serializers import Out


class ProbeReadingBody(Out):
    """One reading of a probe; a broken one is refused in its own answer and stops no other."""

    probe = serializers.CharField(max_length=40, help_text="code of the probe on the kitchen's list of thermometers")
    at = serializers.DateTimeField(help_text="when it was measured, with its offset")
    temp = serializers.CharField(max_length=20, help_text='what the probe showed, as decimal text: "71.5"')
    unit = serializers.CharField(max_length=1, required=False, help_text="C or F; else the unit of the probe")
    key = serializers.CharField(
        max_length=80, required=False, help_text="sent again, kept once; else probe and time are the key"
    )


class ReadingsBody(Out):
    readings = ProbeReadingBody(many=True)


class CountsOut(Out):
    kept = serializers.IntegerField()
    known = serializers.IntegerField(help_text="had come in before")
    questioned = serializers.IntegerField(help_text="kept, but somebody must look")
    refused = serializers.IntegerField()


class ReadingsOut(Out):
    server_now = serializers.DateTimeField()
    counts = CountsOut()
    answers = AnswerOut(many=True)
