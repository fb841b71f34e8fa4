"""Pages of checks and standards."""

from __future__ import annotations

from django.urls import path

from calibration.views import (
    certificates_import,
    checks,
    dcc,
    draft,
    export,
    requirements,
    standards,
    standards_instruments,
    standards_made,
    standards_recall,
    studies,
)

app_name = "calibration"
urlpatterns = [
    # /checks/
    path("checks/", checks.checks, name="checks"),
    path("checks/export.csv", export.checks_csv, name="checks-csv"),
    path("checks/export.xlsx", export.checks_xlsx, name="checks-xlsx"),
    path("checks/<int:number>/", checks.check, name="check"),
    path("checks/<int:number>/paper/", checks.check_paper, name="check-paper"),
    path("checks/<int:number>/dcc/", dcc.check_dcc, name="check-dcc"),
    path("checks/<int:number>/correct/", checks.correct, name="correct"),
    path("checks/<int:number>/review/", checks.check_review, name="check-review"),
    path("checks/begin/<int:pk>/", checks.check_start, name="check-start"),
    path("checks/draft/<int:pk>/", draft.draft, name="draft"),
    path("checks/draft/<int:pk>/figures/", draft.draft_work, name="draft-work"),
    path("checks/draft/<int:pk>/sign/", draft.draft_sign, name="draft-sign"),
    path("checks/draft/<int:pk>/aside/", draft.draft_discard, name="draft-discard"),
    # /standards/
    path("standards/", standards.standards, name="standards"),
    path("standards/lots/new/", standards.lot_new, name="lot-new"),
    path("standards/lots/<int:pk>/", standards.lot, name="lot"),
    path("standards/lots/<int:pk>/fact/", standards.lot_fact, name="lot-fact"),
    path("standards/certificates/<int:pk>/new/", standards.certificate_new, name="certificate-new"),
    path("standards/certificates/in/", certificates_import.certificates_in, name="certificates-in"),
    path("standards/kinds/<int:pk>/", standards_made.kind, name="kind"),
    path("standards/kinds/new/", standards_made.kind_new, name="kind-new"),
    path("standards/lots/made/", standards_made.dilution_new, name="dilution-new"),
    path("standards/lots/<int:pk>/assign/", standards_made.assign, name="lot-assign"),
    path("standards/lots/<int:pk>/withdraw/", standards_recall.recall_lot, name="recall-lot"),
    path("standards/instruments/<int:pk>/", standards_instruments.instrument, name="instrument"),
    path("standards/instruments/<int:pk>/serve/", standards_instruments.serve, name="instrument-serve"),
    path("standards/instruments/<int:pk>/end/", standards_instruments.end, name="instrument-end"),
    path("standards/instruments/<int:pk>/certificate/", standards_instruments.intake, name="instrument-intake"),
    path("standards/instruments/<int:pk>/send/", standards_instruments.send, name="instrument-send"),
    path("standards/instruments/<int:pk>/back/", standards_instruments.back, name="instrument-back"),
    path("standards/instruments/<int:pk>/withdraw/", standards_recall.recall_asset, name="recall-asset"),
    path("standards/withdrawn/<int:pk>/", standards_recall.recall, name="recall"),
    # /requirements/
    path("checks/requirements/<int:pk>/", requirements.requirement, name="requirement"),
    path("checks/requirements/<int:pk>/history/", studies.history, name="history-of"),
    path("checks/requirements/<int:pk>/history/baseline/", studies.baseline, name="baseline"),
    path("checks/requirements/<int:pk>/history/interval/", studies.interval, name="interval"),
    path("checks/requirements/new/<int:pk>/", requirements.requirement_new, name="requirement-new"),
]
