"""Addresses of the pages; every one below /k/ names its kitchen."""

from __future__ import annotations

from datetime import date

from django.urls import URLPattern, URLResolver, include, path, register_converter

from production.web.views import (
    bones,
    changes,
    cooling_papers,
    deviations,
    dispatch,
    documents,
    exports,
    fixes,
    floor,
    floor_pages,
    floor_record,
    formulas,
    hazards,
    home,
    inspection,
    jobs,
    lots,
    moves,
    offline,
    orders,
    plan,
    purchasing,
    receiving,
    runs,
    storage,
    storage_temps,
    thermometers,
    trace,
    weeks,
    workings,
)


class DayConverter:
    """A day in an address: 2026-03-02."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date) -> str:
        return value.isoformat()


register_converter(DayConverter, "day")

_week: list[URLPattern | URLResolver] = [
    path("", weeks.week, name="week"),
    path("week-file/", weeks.week_download, name="week-download"),
    path("orders/", orders.orders, name="orders"),
    path("orders/<str:line>/", orders.order_line, name="order-line"),
    path("plan/", plan.plan, name="plan"),
    path("plan/make/", plan.plan_make, name="plan-make"),
    path("plan/again/", plan.plan_again, name="plan-again"),
    path("plan/<int:number>/", plan.plan, name="plan-numbered"),
    path("plan/<int:number>/publish/", plan.plan_publish, name="plan-publish"),
    path("plan/<int:number>/take/", plan.plan_take, name="plan-take"),
    path("plan/<int:number>/leave/", plan.plan_leave, name="plan-leave"),
    path("plan/<int:number>/help/", fixes.fixes_ask, name="fixes-ask"),
    path("plan/<int:number>/help/<int:index>/", fixes.fix_do, name="fix-do"),
    path("plan/<int:before>/to/<int:after>/", plan.plan_compare, name="plan-compare"),
    path("changes/", changes.changes, name="changes"),
    path("changes/verdict/", moves.move_verdict, name="move-verdict"),
    path("changes/move/", moves.move_form, name="move-form"),
    path("changes/<int:ask_id>/withdraw/", changes.change_withdraw, name="change-withdraw"),
    path("runs/<str:run>/", runs.run, name="run"),
    path("runs/<str:run>/workings/<str:key>/", runs.run_working, name="run-working"),
    path("formulas/<str:formula>/roles/", formulas.roles, name="formula-roles"),
    path("purchasing/", purchasing.purchasing, name="purchasing"),
    path("storage/", storage.storage, name="storage"),
    path("documents/", documents.documents, name="documents"),
    path("documents/issue/", documents.documents_issue, name="documents-issue"),
]
_kitchen: list[URLPattern | URLResolver] = [
    path("", home.kitchen, name="kitchen"),
    path("weeks/", weeks.weeks, name="weeks"),
    path("weeks/<day:starts_on>/", include(_week)),
    path("floor/", floor_pages.board, name="floor"),
    path("floor/cooling/", floor_pages.cooling, name="cooling"),
    path("floor/cooling/<path:name>/", floor_pages.cooling_group, name="cooling-group"),
    path("floor/cooling-print/<path:name>/", cooling_papers.cooling_print, name="cooling-print"),
    path("floor/runs/<day:starts_on>/<str:run>/", floor_pages.run_live, name="run-live"),
    path("floor/runs/<day:starts_on>/<str:run>/print/", cooling_papers.batch_record_print, name="batch-record-print"),
    path("floor/entries/", floor.entries, name="floor-entries"),
    path("floor/record/", floor_record.record, name="floor-record"),
    path("floor/worker.js", offline.worker, name="floor-worker"),
    path("floor/pulse/", offline.pulse, name="floor-pulse"),
    path("lots/", lots.lots, name="lots"),
    path("lots/pack/", lots.lot_pack, name="lot-pack"),
    path("lots/take-in/", lots.lots_take_in, name="lots-take-in"),
    path("lots/<str:code>/", lots.lot, name="lot"),
    path("dispatch/", dispatch.dispatch, name="dispatch"),
    path("dispatch/send/", dispatch.dispatch_send, name="dispatch-send"),
    path("dispatch/note/", dispatch.dispatch_note, name="dispatch-note"),
    path("receiving/", receiving.receiving, name="receiving"),
    path("receiving/<str:code>/", receiving.receipt, name="receipt"),
    path("temperatures/", storage_temps.store_temps, name="store-temps"),
    path("temperatures/<str:code>/", storage_temps.store_log, name="store-log"),
    path("thermometers/", thermometers.thermometers, name="thermometers"),
    path("thermometers/<str:code>/", thermometers.thermometer, name="thermometer"),
    path("thermometers/<str:code>/checks/<int:number>/", thermometers.thermometer_doubt, name="thermometer-doubt"),
    path("bones/", bones.bones, name="bones"),
    path("bones/<str:code>/", bones.bones_take, name="bones-take"),
    path("inspection/", inspection.inspection, name="inspection"),
    path("inspection/book/", inspection.inspection_book, name="inspection-book"),
    path("inspection/logs/<path:name>/", inspection.inspection_log, name="inspection-log"),
    path("inspection/export/", exports.exports, name="exports"),
    path("inspection/export/<int:job_id>/", exports.export_file, name="export-file"),
    path("deviations/", deviations.deviations, name="deviations"),
    path("deviations/<int:number>/", deviations.deviation, name="deviation"),
    path("trace/", trace.trace, name="trace"),
    path("trace/drills/begin/", trace.drills_begin, name="drill-begin"),
    path("trace/drills/<int:number>/", trace.drill, name="drill"),
    path("trace/report/<path:key>/", trace.trace_pdf, name="trace-pdf"),
    path("trace/of/<path:key>/", trace.trace_thread, name="trace-thread"),
    path("hazard-plans/", hazards.hazard_plans, name="hazard-plans"),
    path("hazard-plans/<str:formula>/", hazards.hazard_plan, name="hazard-plan"),
    path("hazard-plans/<str:formula>/<int:version>/pdf/", hazards.hazard_plan_pdf, name="hazard-plan-pdf"),
    path("documents/<int:document_id>/pdf/", documents.document_pdf, name="document-pdf"),
    path("jobs/<int:job_id>/", jobs.job, name="job"),
    path("jobs/<int:job_id>/progress/", jobs.job_progress, name="job-progress"),
    path("jobs/<int:job_id>/stop/", jobs.job_stop, name="job-stop"),
    path("workings/", workings.workings, name="workings"),
    path("workings/<str:name>/", workings.working, name="working"),
]
urlpatterns: list[URLPattern | URLResolver] = [
    path("", home.home, name="home"),
    path("inspection/", inspection.inspections, name="inspections"),
    path("k/<str:kitchen>/", include(_kitchen)),
]
