"""Keep it true: standards, methods, checks."""

from __future__ import annotations

from django.apps import AppConfig


class CalibrationConfig(AppConfig):
    """Keep it true: standards, methods, checks."""

    name = "calibration"

    def ready(self) -> None:
        """Put this app's takers into the lists of the plant."""
        from assets import hooks
        from calibration.actions.custody import refuse_while_away
        from calibration.actions.tables import know_the_solutions
        from calibration.reads.digest import tell_checks_of
        from calibration.reads.handover import tell_checks
        from maintenance.hooks import digest_tellers, handover_tellers

        handover_tellers.append(tell_checks)
        digest_tellers.append(tell_checks_of)
        hooks.after_start_site.append(know_the_solutions)
        hooks.after_fit.insert(0, refuse_while_away)
