"""The forms of what goes in and out. Names of fields say their units; money is text with two decimals."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from production.domain.workings import Figure

Out = serializers.Serializer[Any]

LARGEST_COUNT = 2_147_483_647
PLAN_DOCUMENT_KINDS = ("batch_sheet", "cooling_log", "purchase_list", "week_overview")
DOCUMENT_KINDS = (
    *PLAN_DOCUMENT_KINDS,
    "label_sheet",
    "dispatch_note",
    "completed_cooling_log",
    "completed_batch_record",
)
JOB_STATES = ("queued", "running", "done", "failed", "cancelled")
PLAN_STATES = ("draft", "published", "superseded")
ROLES = ("manager", "cook", "inspector", "administrator")
CONFIDENCES = ("A", "B", "C")


def money() -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=None, decimal_places=2)


# --- refusals ----------------------------------------------------------------------------------------------------


class MisfitOut(Out):
    pointer = serializers.CharField(help_text="JSON pointer (RFC 6901) of the place")
    found = serializers.CharField(required=False)
    allowed = serializers.CharField(required=False)
    sentence = serializers.CharField()


class ProblemOut(Out):
    type = serializers.CharField(help_text="urn:potwright:problem: followed by the code")
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="a sentence for people")
    code = serializers.CharField()
    numbers = serializers.DictField(help_text="the quantities that the sentence speaks of")
    remedy = serializers.CharField(help_text="what to do next")
    problems = MisfitOut(many=True, required=False)


# --- people and kitchens -----------------------------------------------------------------------------------------


class SignInBody(Out):
    username = serializers.CharField(max_length=150)
    password = serializers.CharField(max_length=4096, trim_whitespace=False)


class SignInOut(Out):
    token = serializers.CharField(help_text="send it with every request as `Authorization: Token …`")


class KitchenOut(Out):
    """A kitchen and what the person may do in it (takes a membership)."""

    code = serializers.CharField(source="kitchen.code")
    name = serializers.CharField(source="kitchen.name")
    time_zone = serializers.CharField(source="kitchen.time_zone")
    units = serializers.CharField(source="kitchen.units")
    paper = serializers.CharField(source="kitchen.paper")
    currency = serializers.CharField(source="kitchen.currency")
    role = serializers.ChoiceField(ROLES)


# --- weeks and orders --------------------------------------------------------------------------------------------


class WeekOut(Out):
    starts_on = serializers.DateField()
    days = serializers.IntegerField()
    plan_from = serializers.DateTimeField()


class NamedOut(Out):
    code = serializers.CharField()
    name = serializers.CharField()


class OrderLineOut(Out):
    code = serializers.CharField()
    outlet = NamedOut()
    product = NamedOut()
    containers = serializers.IntegerField()
    dispatch_at = serializers.DateTimeField()
    weight = serializers.FloatField()
    revision = serializers.IntegerField(help_text="counts the changes; send it back with the next one")


class OrderLineBody(Out):
    containers = serializers.IntegerField()
    revision = serializers.IntegerField(min_value=1, max_value=LARGEST_COUNT)


# --- formulas ---------------------------------------------------------------------------------------------------


class StandInOut(Out):
    ingredient = serializers.CharField()
    name = serializers.CharField()
    in_use = serializers.BooleanField()
    soluble_share = serializers.FloatField(source="soluble.value", help_text="what a mass of it can give")
    t90_h = serializers.FloatField(source="t90.value", help_text="time at 95 °C until 90 % of it is out")
    cling_share = serializers.FloatField(source="cling.value", help_text="liquid that stays on a mass of it")
    allergens = serializers.ListField(child=serializers.CharField())


class RoleOut(Out):
    role = serializers.CharField()
    share = serializers.FloatField(help_text="of the solids, by mass")
    stand_ins = StandInOut(many=True)


class FormulaRolesOut(Out):
    formula = serializers.CharField(source="formula.code")
    name = serializers.CharField(source="formula.name")
    version = serializers.IntegerField(source="formula.version")
    roles = RoleOut(many=True)


class RoleBody(Out):
    role = serializers.CharField(max_length=40)
    ingredient = serializers.CharField(max_length=40)


# --- plans -------------------------------------------------------------------------------------------------------


class PlanHeadOut(Out):
    number = serializers.IntegerField()
    status = serializers.ChoiceField(PLAN_STATES)
    solver_status = serializers.CharField()
    seconds = serializers.FloatField()
    seed = serializers.IntegerField()
    parameter_set = serializers.CharField(source="parameter_set_version")
    input_sha256 = serializers.CharField()
    created_by = serializers.CharField(source="created_by.username", default="")
    created_at = serializers.DateTimeField()
    base = serializers.IntegerField(
        source="base.number", default=None, allow_null=True, help_text="a re-plan of this one"
    )
    is_proposal = serializers.BooleanField(help_text="a re-plan that waits to be taken or left")
    decided_by = serializers.CharField(source="decided_by.username", default="", help_text="who took or left it")
    taken_at = serializers.DateTimeField(allow_null=True)
    left_at = serializers.DateTimeField(allow_null=True)
    published_by = serializers.CharField(source="published_by.username", default="")
    published_at = serializers.DateTimeField(allow_null=True)


class PlannedDrawOut(Out):
    name = serializers.CharField()
    cooled_in = serializers.ListField(child=serializers.CharField(), source="device_names")
    start_at = serializers.DateTimeField()
    end_at = serializers.DateTimeField()
    ready_at = serializers.DateTimeField()


class PlannedRunOut(Out):
    code = serializers.CharField()
    formula = serializers.CharField()
    formula_version = serializers.IntegerField()
    pot = serializers.CharField()
    start_at = serializers.DateTimeField()
    end_at = serializers.DateTimeField()
    fill_mark_mm = serializers.FloatField(source="charge.fill_mark_mm", help_text="cold surface below the rim")
    solids_kg = serializers.FloatField(source="charge.solids_kg")
    water_kg = serializers.FloatField(source="charge.water_kg")
    first_draw_l = serializers.FloatField(source="batch.first_l")
    reduction_l = serializers.FloatField(source="batch.reduction_l")
    draws = PlannedDrawOut(many=True)
    why_here = serializers.CharField(source="placed.why_here")


class UnservedOut(Out):
    line = serializers.CharField()
    product = serializers.CharField()
    containers = serializers.IntegerField()
    resource = serializers.CharField()
    missing = serializers.FloatField()
    unit = serializers.CharField()
    sentence = serializers.CharField()
    remedy = serializers.CharField()


class LateOut(Out):
    line = serializers.CharField()
    run = serializers.CharField()
    due_at = serializers.DateTimeField()
    ready_at = serializers.DateTimeField()
    resource = serializers.CharField()
    sentence = serializers.CharField()


class PlanOut(PlanHeadOut):
    stale = serializers.BooleanField(help_text="orders, stock or set-up have changed since")
    runs = PlannedRunOut(many=True)
    unserved = UnservedOut(many=True)
    late = LateOut(many=True)


class FillingOut(Out):
    pot = serializers.CharField()
    runs = serializers.IntegerField()
    litres = serializers.FloatField()


class StorageChoiceOut(Out):
    store = serializers.CharField()
    product = serializers.CharField()
    containers = serializers.IntegerField()
    litres = serializers.FloatField()
    value = money()
    value_per_storage_l = money()
    fillings = FillingOut(many=True)


class PurchaseLineOut(Out):
    ingredient = serializers.CharField()
    packs = serializers.IntegerField()
    pack_kg = serializers.FloatField()
    mass_kg = serializers.FloatField()
    needed_kg = serializers.FloatField()
    price = money()
    cost = money()
    needed_by = serializers.DateTimeField()
    for_runs = serializers.ListField(child=serializers.CharField())


class PurchaseListOut(Out):
    key = serializers.CharField()
    supplier = serializers.CharField()
    contact = serializers.CharField()
    order_by = serializers.DateTimeField()
    delivery_at = serializers.DateTimeField()
    currency = serializers.CharField()
    lines = PurchaseLineOut(many=True)
    total = money()


# --- documents and jobs ------------------------------------------------------------------------------------------


class DocumentOut(Out):
    id = serializers.IntegerField()
    kind = serializers.ChoiceField(DOCUMENT_KINDS)
    key = serializers.CharField()
    version = serializers.IntegerField()
    replaces = serializers.IntegerField(source="replaces_id", allow_null=True)
    title = serializers.CharField()
    paper = serializers.CharField()
    pages = serializers.IntegerField()
    content_sha256 = serializers.CharField()
    created_by = serializers.CharField(source="created_by.username", default="")
    created_at = serializers.DateTimeField()


class DocumentWithContentOut(DocumentOut):
    content = serializers.DictField(help_text="what is printed, as frozen when it was issued")


class DocumentsBody(Out):
    """One document of the plan, or none named: all of them."""

    kind = serializers.ChoiceField(PLAN_DOCUMENT_KINDS, required=False)
    key = serializers.CharField(max_length=120, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("kind" in attrs) != ("key" in attrs):
            raise serializers.ValidationError("Name kind and key together, or neither for all documents.")
        return attrs


class DocumentsQuery(Out):
    all_versions = serializers.BooleanField(default=False, help_text="also versions that were replaced")


class ProgressOut(Out):
    done = serializers.IntegerField(source="progress_done")
    total = serializers.IntegerField(source="progress_total")
    note = serializers.CharField(source="progress_note")


class FailureOut(Out):
    code = serializers.CharField(source="error_code")
    sentence = serializers.CharField(source="error_sentence")


class JobOut(Out):
    id = serializers.IntegerField()
    kind = serializers.CharField()
    state = serializers.ChoiceField(JOB_STATES)
    cancel_requested = serializers.BooleanField()
    enough = serializers.BooleanField(help_text="asked to stop searching and keep the best so far")
    attempts = serializers.IntegerField()
    progress = ProgressOut(source="*")
    preview = serializers.DictField(allow_null=True, help_text="the best plan so far while one is searched for")
    result = serializers.DictField(allow_null=True)
    failure = FailureOut(source="*", help_text="empty unless the state is failed")
    requested_by = serializers.CharField(source="requested_by.username", default="")
    created_at = serializers.DateTimeField()
    started_at = serializers.DateTimeField(allow_null=True)
    finished_at = serializers.DateTimeField(allow_null=True)


# --- workings ----------------------------------------------------------------------------------------------------


class ArgumentOut(Out):
    name = serializers.CharField()
    unit = serializers.CharField()
    low = serializers.FloatField(allow_null=True, help_text="null: open")
    high = serializers.FloatField(allow_null=True, help_text="null: open")
    default = serializers.FloatField(allow_null=True, help_text="null: must be given")


class WorkingOut(Out):
    name = serializers.CharField()
    summary = serializers.CharField()
    equation = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    valid = serializers.CharField()
    confidence = serializers.ChoiceField(CONFIDENCES, source="cls")
    unit = serializers.CharField()
    arguments = ArgumentOut(many=True)
    parameters = serializers.ListField(child=serializers.CharField())


class FigureHeadOut(Out):
    key = serializers.CharField()
    value = serializers.FloatField()
    unit = serializers.CharField()
    working = serializers.CharField()


class FigureOut(FigureHeadOut):
    inputs = serializers.SerializerMethodField()

    def get_inputs(self, figure: Figure) -> dict[str, float]:
        return dict(figure.inputs)


class ParameterOut(Out):
    code = serializers.CharField()
    value = serializers.FloatField()
    unit = serializers.CharField()
    confidence = serializers.ChoiceField(CONFIDENCES, source="cls")
    n = serializers.IntegerField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    source = serializers.CharField()  # type: ignore[assignment]


class ComputedOut(Out):
    """A number and how it came about."""

    figure = FigureOut()
    working = WorkingOut()


class RunFigureOut(ComputedOut):
    recomputed = serializers.FloatField(help_text="the working applied again now to the stored inputs")
    parameters = ParameterOut(many=True)


@extend_schema_field({"oneOf": [{"type": "number"}, {"type": "string", "maxLength": 60}]})
class AmountField(serializers.Field[Any, Any, Any, Any]):
    """A number in the argument's own unit, or a text with any unit of the same kind: read as a typed text is."""

    def to_internal_value(self, data: object) -> str:
        match data:
            case bool():
                pass
            case int() | float() if abs(data) < 1e300:
                return repr(float(data))
            case str() if len(data) <= 60 and data.isprintable():
                return data
        raise serializers.ValidationError('Give a number, or a text with its unit such as "5200 ft".')


class ArgumentsBody(Out):
    arguments = serializers.DictField(
        child=AmountField(), help_text='by name: {"altitude_m": 1585} or {"altitude": "5200 ft"}'
    )


class WorkingsQuery(Out):
    find = serializers.CharField(
        default="", allow_blank=True, max_length=60, help_text="part of the name or the summary"
    )


# --- pages of a list ---------------------------------------------------------------------------------------------


class PageQuery(Out):
    page = serializers.IntegerField(default=1, min_value=1, max_value=100_000)
    size = serializers.IntegerField(default=100, min_value=1, max_value=200)
