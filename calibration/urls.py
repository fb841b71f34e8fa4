"""Pages of checks and standards."""

from __future__ import annotations

from django.urls import path

from calibration.views import checks, dcc, draft, export, requirements, standards

app_name = "calibration"
urlpatterns = [
    # /checks/
    path("checks/", checks.checks, name="checks"),
    path("checks/export.csv", export.checks_csv, name="checks-csv"),
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
    # /requirements/
    path("checks/requirements/<int:pk>/", requirements.requirement, name="requirement"),
    path("checks/requirements/new/<int:pk>/", requirements.requirement_new, name="requirement-new"),
]
