"""What really happened: the append-only book of entries, and rows that say where things stand because of it.

An entry is never changed or deleted. The other rows here are read off from entries and can be worked out again.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from production.domain.kitchen import ALLERGENS
from production.models.base import KitchenRow, SameKitchen, WordsOf, once, words
from production.models.catalogue import Outlet, Product
from production.models.kitchen import CoolingDevice, Kitchen, Pot, Store
from production.models.plans import Plan
from production.models.weeks import OrderLine, PlanningWeek

TEMP_UNITS = ("C", "F")


class RecordBook(SameKitchen):
    """The head of a kitchen's book: how many entries it holds, and the tops of the complete trees over them."""

    kitchen = models.OneToOneField(Kitchen, on_delete=models.PROTECT, related_name="record_book")
    size = models.PositiveBigIntegerField(default=0)
    peaks = models.JSONField(default=list, blank=True)  # hex, largest tree first

    def __str__(self) -> str:
        return f"Book of {self.kitchen}, {self.size} entries"


class Entry(SameKitchen):
    """One record, as it was made. A correction is a new entry that names the one it corrects."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="entries")
    number = models.PositiveBigIntegerField()  # 1, 2, 3 … within the kitchen
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=160)  # run/…, cooling/…, lot/…, thermometer/…
    content = models.JSONField(default=dict)  # text, whole numbers, true/false, lists: no floating point
    happened_at = models.DateTimeField()  # as said by whoever made it
    made_at = models.DateTimeField()  # by the clock of the server
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    by_login = models.CharField(max_length=160)  # sign-in name and printed name, as they were then
    by_name = models.CharField(max_length=160)
    role = models.CharField(max_length=20)
    key = models.CharField(max_length=80)  # chosen by the sender: sent twice, kept once
    corrects = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrections")
    reason = models.CharField(max_length=300, blank=True)
    before_sha256 = models.CharField(max_length=64, blank=True)  # leaf of the entry before; the first has none
    leaf_sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ("number",)
        verbose_name_plural = "entries"
        constraints = [
            once("entry", "kitchen", "number"),
            once("entry", "kitchen", "key"),
            models.CheckConstraint(condition=Q(number__gte=1), name="entry_number_from_1"),
            models.CheckConstraint(
                condition=Q(corrects__isnull=True) | ~Q(reason=""), name="entry_correction_has_reason"
            ),
        ]
        indexes = [models.Index(fields=["kitchen", "subject", "number"], name="entry_by_subject")]

    def __str__(self) -> str:
        return f"Entry {self.number}: {self.kind} of {self.subject}"


class Checkpoint(SameKitchen):
    """A signed note of how the book stood; it can be given away, so that nobody can take it back."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="checkpoints")
    size = models.PositiveBigIntegerField()
    root_sha256 = models.CharField(max_length=64)
    note = models.TextField()  # the signed text, as in production.domain.ledger.checkpoint
    signed_at = models.DateTimeField()
    key_id = models.CharField(max_length=16)

    class Meta:
        ordering = ("size", "pk")
        constraints = [once("checkpoint", "kitchen", "size", "key_id")]

    def __str__(self) -> str:
        return f"Checkpoint of {self.kitchen} at {self.size} entries"


class Thermometer(KitchenRow):
    """A hand thermometer, or a probe that sends its readings itself."""

    class Kind(models.TextChoices):
        HAND = "hand"
        PROBE = "probe"

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.HAND)
    unit = models.CharField(max_length=1, choices=words(TEMP_UNITS))
    both_scales = models.BooleanField(default=False)  # shows the other scale too: the narrower tolerance holds
    correction = models.DecimalField(max_digits=5, decimal_places=2, default=0)  # added to what it shows
    check_due_on = models.DateField(null=True, blank=True)  # no date: never checked

    class Meta:
        ordering = ("position", "pk")
        constraints = [
            once("thermometer", "kitchen", "code"),
            models.CheckConstraint(condition=Q(kind__in=["hand", "probe"]), name="thermometer_kind_allowed"),
            models.CheckConstraint(condition=Q(unit__in=list(TEMP_UNITS)), name="thermometer_unit_allowed"),
        ]


class SafetyPlan(SameKitchen):
    """What the kitchen's approved food-safety plan allows beyond the rule; without a row, the defaults hold."""

    kitchen = models.OneToOneField(Kitchen, on_delete=models.PROTECT, related_name="safety_plan")
    reheats_allowed = models.PositiveIntegerField(default=1)  # how often one cooling may be begun anew by re-heating
    second_person_excludes = models.BooleanField(default=False)  # who took a reading may not set it aside alone
    review_working_days = models.PositiveIntegerField(default=7)  # by when a log is to be reviewed

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(reheats_allowed__lte=1), name="safety_plan_one_reheat_at_most")
        ]

    def __str__(self) -> str:
        return f"Food-safety plan of {self.kitchen}"


class RunRecord(SameKitchen):
    """A run that is cooked: the sheet it was begun with, and where it stands."""

    class State(models.TextChoices):
        UNDER_WAY = "under_way"
        FINISHED = "finished"
        BROKEN_OFF = "broken_off"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="run_records")
    week = models.ForeignKey(PlanningWeek, on_delete=models.PROTECT, related_name="run_records")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="run_records")
    code = models.CharField(max_length=40)
    subject = models.CharField(max_length=160)  # run/<first day of the week>/<code>
    pot = models.ForeignKey(Pot, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    sheet = models.JSONField()  # the batch sheet as it was when the run was begun
    state = models.CharField(max_length=12, choices=State.choices, default=State.UNDER_WAY)
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("begun_at", "pk")
        constraints = [
            once("run_record", "week", "code"),
            once("run_record", "kitchen", "subject"),
            models.CheckConstraint(
                condition=Q(state__in=["under_way", "finished", "broken_off"]), name="run_record_state_allowed"
            ),
            models.CheckConstraint(
                condition=Q(state="under_way", ended_at__isnull=True) | Q(ended_at__isnull=False),
                name="run_record_end_has_time",
            ),
        ]

    def __str__(self) -> str:
        return f"Run {self.code} ({self.state})"


class CoolingRecord(SameKitchen):
    """One group of containers that cools together, from the draw to the closed log.

    A re-heat closes it and opens the next attempt. `digest` and `curve` are read off from the readings.
    """

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="cooling_records")
    week = models.ForeignKey(PlanningWeek, on_delete=models.PROTECT, related_name="cooling_records")
    run = models.ForeignKey(RunRecord, on_delete=models.PROTECT, related_name="coolings")
    draw = models.CharField(max_length=20)  # first, second or reduction
    device = models.ForeignKey(CoolingDevice, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    group = models.PositiveIntegerField(default=1)  # several groups of one draw in one device
    attempt = models.PositiveIntegerField(default=1)
    subject = models.CharField(max_length=160)  # cooling/<first day>/<run>/<draw>/<device>/<group>.<attempt>
    rule = models.CharField(max_length=40)
    sheet = models.JSONField()  # the cooling log as it was planned: vessels, litres, depth, ice, expected curve
    hot_fact_at = models.DateTimeField(null=True, blank=True)  # last moment at which it was surely hot
    event_at = models.DateTimeField(null=True, blank=True)  # for rules that count from an event
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    reading_count = models.PositiveIntegerField(default=0)
    digest = models.JSONField(default=dict, blank=True)
    curve = models.JSONField(default=list, blank=True)  # thinned, for the drawing
    verdict = models.CharField(max_length=16, blank=True)  # of the closed log; open logs are judged when looked at

    class Meta:
        ordering = ("opened_at", "pk")
        constraints = [
            once("cooling_record", "kitchen", "subject"),
            models.CheckConstraint(condition=Q(attempt__gte=1, group__gte=1), name="cooling_record_counts_from_1"),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, verdict="")
                | Q(closed_at__isnull=False, verdict__in=["met", "breached", "not_shown"]),
                name="cooling_record_closed_has_verdict",
            ),
        ]
        indexes = [models.Index(fields=["kitchen", "closed_at"], name="cooling_by_kitchen")]

    def __str__(self) -> str:
        return f"{self.subject} ({self.verdict or 'open'})"


class Reading(SameKitchen):
    """A temperature as it was read; exclusion and question are read off from later entries."""

    cooling = models.ForeignKey(CoolingRecord, on_delete=models.PROTECT, related_name="readings")
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, related_name="reading")
    thermometer = models.ForeignKey(Thermometer, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    measured_at = models.DateTimeField()
    temp = models.CharField(max_length=12)  # as typed, corrected by the thermometer: decimal text
    unit = models.CharField(max_length=1, choices=words(TEMP_UNITS))
    excluded = models.BooleanField(default=False)
    question = models.CharField(max_length=40, blank=True)  # why it was asked about, if it was
    confirmed = models.BooleanField(default=False)  # somebody has looked and says that it is right

    class Meta:
        ordering = ("measured_at", "pk")
        constraints = [models.CheckConstraint(condition=Q(unit__in=list(TEMP_UNITS)), name="reading_unit_allowed")]
        indexes = [models.Index(fields=["cooling", "measured_at"], name="reading_by_time")]

    def __str__(self) -> str:
        return f"{self.temp} {self.unit}"

    def owner_id(self) -> int | None:
        return self.cooling.owner_id()


class Lot(SameKitchen):
    """Containers of one product from one draw of one run, packed together."""

    class Status(models.TextChoices):
        HELD = "held"  # kept back until somebody decides
        FREE = "free"  # may leave
        DISCARDED = "discarded"

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="lots")
    code = models.CharField(max_length=20)  # A-Z and 0-9 only
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(RunRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    coolings = models.ManyToManyField(CoolingRecord, related_name="lots", blank=True)
    containers = models.PositiveIntegerField()  # as made
    left = models.PositiveIntegerField()
    made_on = models.DateField()  # day 1 of its life
    packed_at = models.DateTimeField()
    use_by = models.DateField()
    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="lots")
    allergens = models.JSONField(default=list, blank=True, validators=[WordsOf(ALLERGENS)])
    label = models.JSONField(default=dict, blank=True)  # what the label says, as it was when packed
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.HELD)
    status_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("use_by", "code")
        constraints = [
            once("lot", "kitchen", "code"),
            models.CheckConstraint(condition=Q(left__lte=F("containers")), name="lot_never_more_than_made"),
            models.CheckConstraint(condition=Q(status__in=["held", "free", "discarded"]), name="lot_status_allowed"),
            models.CheckConstraint(condition=Q(use_by__gte=F("made_on")), name="lot_use_by_not_before_made"),
        ]

    def __str__(self) -> str:
        return self.code


class LotMove(SameKitchen):
    """Containers that came to a lot or left it."""

    class Kind(models.TextChoices):
        MADE = "made"
        DISPATCHED = "dispatched"
        DISCARDED = "discarded"
        COUNTED = "counted"  # a stock-take found more or fewer
        RETURNED = "returned"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="moves")
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="lot_moves")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    containers = models.IntegerField()  # positive: came, negative: left
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    outlet = models.ForeignKey(Outlet, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["made", "dispatched", "discarded", "counted", "returned"]),
                name="lot_move_kind_allowed",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot}: {self.kind} {self.containers}"

    def owner_id(self) -> int | None:
        return self.lot.owner_id()
