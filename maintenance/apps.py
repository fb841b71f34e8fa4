"""Keep it running: routines, due list, work orders, lockout."""

from __future__ import annotations

from django.apps import AppConfig


class MaintenanceConfig(AppConfig):
    """Takes part in changes of the plant: what is fitted owes its routines, what is retired owes none."""

    name = "maintenance"

    def ready(self) -> None:
        """Put this app's takers into the lists of the plant."""
        from assets import hooks
        from maintenance.actions import due, overrides_end, routines, stretches
        from maintenance.actions.lockout.hooks import lock_rules
        from maintenance.hooks import handover_tellers
        from maintenance.reads import handover

        hooks.after_fit.append(due.owe_before_use)
        hooks.after_retire.append(routines.retire_with)
        hooks.after_reading.append(stretches.after_reading)
        hooks.after_running_change.append(stretches.after_running)
        hooks.after_days_change.append(stretches.after_days)
        hooks.before_retire.append(overrides_end.refuse_while_overridden)
        handover_tellers.extend([handover.tell_upkeep, handover.tell_plant])
        lock_rules()
