"""Addresses of the API, version 1; every one below kitchens/ names its kitchen."""

from __future__ import annotations

from django.urls import path, re_path
from drf_spectacular.views import SpectacularJSONAPIView

from api import converters
from api.door import NothingHere
from api.views import (
    care,
    documents,
    floor,
    formulas,
    inspection,
    jobs,
    kitchens,
    lots,
    planning,
    plans,
    readings,
    schemas,
    sign_in,
    trace,
    weeks,
    workings,
)

converters.register()

_KITCHEN = "kitchens/<api_code:kitchen>"
_WEEK = f"{_KITCHEN}/weeks/<api_day:starts_on>"
_PLAN = f"{_WEEK}/plans/<api_plan:number>"
_RUN = f"{_PLAN}/runs/<api_code:run>"

urlpatterns = [
    path("sign-in", sign_in.SignIn.as_view(), name="api-sign-in"),
    path("sign-out", sign_in.SignOut.as_view(), name="api-sign-out"),
    path("kitchens", kitchens.Kitchens.as_view(), name="api-kitchens"),
    path(_KITCHEN, kitchens.Kitchen.as_view(), name="api-kitchen"),
    path(f"{_KITCHEN}/weeks", weeks.Weeks.as_view(), name="api-weeks"),
    path(_WEEK, weeks.Week.as_view(), name="api-week"),
    path(f"{_WEEK}/file", weeks.WeekFile.as_view(), name="api-week-file"),
    path(f"{_WEEK}/order-lines", weeks.OrderLines.as_view(), name="api-order-lines"),
    path(f"{_WEEK}/order-lines/<api_code:line>", weeks.OrderLine.as_view(), name="api-order-line"),
    path(f"{_WEEK}/formulas/<api_code:formula>/roles", formulas.Roles.as_view(), name="api-formula-roles"),
    path(f"{_WEEK}/asks", planning.Asks.as_view(), name="api-asks"),
    path(f"{_WEEK}/asks/<api_row:ask>/withdraw", planning.AskWithdraw.as_view(), name="api-ask-withdraw"),
    path(f"{_WEEK}/replans", planning.Replans.as_view(), name="api-replans"),
    path(f"{_WEEK}/plans", plans.Plans.as_view(), name="api-plans"),
    path(_PLAN, plans.Plan.as_view(), name="api-plan"),
    path(f"{_PLAN}/file", plans.PlanFile.as_view(), name="api-plan-file"),
    path(f"{_PLAN}/publish", planning.Publish.as_view(), name="api-plan-publish"),
    path(f"{_PLAN}/take", planning.Take.as_view(), name="api-plan-take"),
    path(f"{_PLAN}/leave", planning.Leave.as_view(), name="api-plan-leave"),
    path(f"{_PLAN}/difference", planning.Difference.as_view(), name="api-difference"),
    path(f"{_PLAN}/fixes", planning.Fixes.as_view(), name="api-fixes"),
    path(f"{_PLAN}/fixes/<api_row:fix>/apply", planning.FixApply.as_view(), name="api-fix-apply"),
    path(f"{_RUN}/move", planning.Move.as_view(), name="api-move"),
    path(f"{_RUN}/figures", plans.Figures.as_view(), name="api-figures"),
    path(f"{_RUN}/figures/<str:key>", plans.Figure.as_view(), name="api-figure"),
    path(f"{_PLAN}/purchase-lists", plans.PurchaseLists.as_view(), name="api-purchase-lists"),
    path(f"{_PLAN}/storage-choices", plans.StorageChoices.as_view(), name="api-storage-choices"),
    path(f"{_PLAN}/documents", documents.Documents.as_view(), name="api-documents"),
    path(f"{_KITCHEN}/floor/entries", floor.Entries.as_view(), name="api-floor-entries"),
    path(f"{_KITCHEN}/readings", readings.Readings.as_view(), name="api-readings"),
    path(f"{_KITCHEN}/documents/<api_row:document>", documents.Document.as_view(), name="api-document"),
    path(f"{_KITCHEN}/documents/<api_row:document>/pdf", documents.DocumentPdf.as_view(), name="api-document-pdf"),
    path(f"{_KITCHEN}/lots", lots.Lots.as_view(), name="api-lots"),
    path(f"{_KITCHEN}/lots/<api_code:lot>/steps", lots.LotSteps.as_view(), name="api-lot-steps"),
    path(f"{_KITCHEN}/stores", lots.Stores.as_view(), name="api-stores"),
    path(f"{_KITCHEN}/dispatches", lots.Dispatches.as_view(), name="api-dispatches"),
    path(f"{_KITCHEN}/thermometers", care.Thermometers.as_view(), name="api-thermometers"),
    path(f"{_KITCHEN}/receipts", care.Receipts.as_view(), name="api-receipts"),
    path(f"{_KITCHEN}/store-temperatures", care.StoreTemps.as_view(), name="api-store-temps"),
    path(f"{_KITCHEN}/bones", lots.BonesBank.as_view(), name="api-bones"),
    path(f"{_KITCHEN}/reviews", inspection.Reviews.as_view(), name="api-reviews"),
    path(f"{_KITCHEN}/deviations", inspection.Deviations.as_view(), name="api-deviations"),
    path(f"{_KITCHEN}/deviations/<api_row:deviation>", inspection.Deviation.as_view(), name="api-deviation"),
    path(
        f"{_KITCHEN}/deviations/<api_row:deviation>/actions",
        inspection.DeviationActions.as_view(),
        name="api-deviation-actions",
    ),
    path(
        f"{_KITCHEN}/deviations/<api_row:deviation>/closing",
        inspection.DeviationClosing.as_view(),
        name="api-deviation-closing",
    ),
    path(f"{_KITCHEN}/trace", trace.Trace.as_view(), name="api-trace"),
    path(f"{_KITCHEN}/hazard-plans", trace.HazardPlans.as_view(), name="api-hazard-plans"),
    path(f"{_KITCHEN}/jobs", jobs.Jobs.as_view(), name="api-jobs"),
    path(f"{_KITCHEN}/jobs/<api_row:job>", jobs.Job.as_view(), name="api-job"),
    path(f"{_KITCHEN}/jobs/<api_row:job>/cancel", jobs.JobCancel.as_view(), name="api-job-cancel"),
    path("workings", workings.Workings.as_view(), name="api-workings"),
    path("workings/<str:name>", workings.Working.as_view(), name="api-working"),
    path("workings/<str:name>/compute", workings.Compute.as_view(), name="api-compute"),
    path("schemas/week-file", schemas.WeekFileSchema.as_view(), name="api-schema-week-file"),
    path("schemas/plan", schemas.PlanSchema.as_view(), name="api-schema-plan"),
    path("openapi.json", SpectacularJSONAPIView.as_view(), name="api-openapi"),
    re_path("", NothingHere.as_view(), name="api-nothing-here"),
]
