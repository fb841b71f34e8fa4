"""Pages of locks, and those of a contractor's job."""

from __future__ import annotations

from django.urls import URLPattern, path

from maintenance.views import (
    contractor,
    locks,
    locks_ends,
    locks_hang,
    locks_procedures,
    locks_register,
    locks_steps,
)

_LOCKOUT = "locks/<int:number>/"

urlpatterns: list[URLPattern] = [
    path("locks/", locks.locks, name="locks"),
    path("locks/new/<int:pk>/", locks.lockout_new, name="lockout-new"),
    # register
    path("locks/points/", locks_register.points, name="points"),
    path("locks/points/new/", locks_register.point_new, name="point-new"),
    path("locks/points/<int:pk>/serve/", locks_register.point_serve, name="point-serve"),
    path("locks/points/<int:pk>/retire/", locks_register.point_retire, name="point-retire"),
    path("locks/points/served/<int:pk>/end/", locks_register.service_end, name="service-end"),
    path("locks/register/", locks_register.lock_register, name="lock-register"),
    path("locks/register/new/", locks_register.lock_new, name="lock-new"),
    path("locks/register/<int:pk>/lost/", locks_register.lock_lost, name="lock-lost"),
    path("locks/boxes/", locks_register.boxes, name="boxes"),
    path("locks/boxes/new/", locks_register.box_new, name="box-new"),
    # procedures
    path("locks/procedure/<int:pk>/", locks_procedures.procedure, name="procedure"),
    path("locks/procedure/<int:pk>/new/", locks_procedures.procedure_new, name="procedure-new"),
    path("locks/procedure/revision/<int:pk>/approve/", locks_procedures.procedure_approve, name="procedure-approve"),
    path("locks/procedure/revision/<int:pk>/withdraw/", locks_procedures.procedure_withdraw, name="procedure-withdraw"),
    # one lockout
    path(_LOCKOUT, locks.lockout, name="lockout"),
    path(f"{_LOCKOUT}record/", locks.lockout_record, name="lockout-record"),
    path(f"{_LOCKOUT}tell-before/", locks_steps.tell_before, name="lockout-tell-before"),
    path(f"{_LOCKOUT}down/", locks_steps.down, name="lockout-down"),
    path(f"{_LOCKOUT}set/<int:pk>/", locks_steps.set_point, name="lockout-set"),
    path(f"{_LOCKOUT}relieve/<int:pk>/", locks_steps.relieve, name="lockout-relieve"),
    path(f"{_LOCKOUT}key/<int:pk>/", locks_steps.key_in, name="lockout-key"),
    path(f"{_LOCKOUT}box/close/", locks_steps.close_box, name="lockout-close-box"),
    path(f"{_LOCKOUT}test/<int:pk>/", locks_steps.test, name="lockout-test"),
    path(f"{_LOCKOUT}add-point/", locks_steps.add_point, name="lockout-add-point"),
    path(f"{_LOCKOUT}charge/", locks_steps.take_charge, name="lockout-charge"),
    path(f"{_LOCKOUT}on/<int:pk>/", locks_hang.on_point, name="lockout-on-point"),
    path(f"{_LOCKOUT}on/box/", locks_hang.on_box, name="lockout-on-box"),
    path(f"{_LOCKOUT}off/<int:pk>/", locks_hang.off, name="lockout-off"),
    path(f"{_LOCKOUT}answers/", locks_hang.answers, name="lockout-answers"),
    path(f"{_LOCKOUT}fits/", locks_hang.fits, name="lockout-fits"),
    path(f"{_LOCKOUT}run/ask/", locks_hang.run_ask, name="lockout-run-ask"),
    path(f"{_LOCKOUT}run/begin/", locks_hang.run_begin, name="lockout-run-begin"),
    path(f"{_LOCKOUT}run/end/", locks_hang.run_end, name="lockout-run-end"),
    path(f"{_LOCKOUT}close/", locks_ends.close, name="lockout-close"),
    path(f"{_LOCKOUT}tell-after/", locks_ends.tell_after, name="lockout-tell-after"),
    path(f"{_LOCKOUT}accept/", locks_ends.accept, name="lockout-accept"),
    path(f"{_LOCKOUT}invite/", locks_ends.invite, name="invite"),
    # a contractor's job
    path("j/<str:token>/", contractor.enter, name="job-enter"),
    path("job/", contractor.job, name="job"),
    path("job/on/", contractor.job_on, name="job-on"),
    path("job/off/<int:pk>/", contractor.job_off, name="job-off"),
    path("job/answers/", contractor.job_answers, name="job-answers"),
    path("job/run/", contractor.job_run, name="job-run"),
    path("job/leave/", contractor.leave, name="job-leave"),
]
