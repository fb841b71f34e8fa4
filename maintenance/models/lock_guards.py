"""Rules of lock rows that the database keeps, whichever door a change comes through."""

from __future__ import annotations

from assets.triggers import Guard

# What hangs where, kept by the database: who may hang a lock, on what, when; and when a point's lock may come off.
APPLICATION_GUARDS = (
    Guard(
        "by_another_than_its_owner",
        "INSERT",
        "NEW.applied_by_id <> (SELECT k.issued_to_id FROM maintenance_lock k WHERE k.id = NEW.lock_id)",
        "A lock is put on by the person it was issued to, and by nobody else.",
    ),
    Guard(
        "of_a_lost_lock",
        "INSERT",
        "EXISTS (SELECT 1 FROM maintenance_lock k WHERE k.id = NEW.lock_id AND k.lost_at IS NOT NULL)",
        "This lock is marked lost; take another.",
    ),
    Guard(
        "after_the_end",
        "INSERT",
        "EXISTS (SELECT 1 FROM maintenance_lockout l WHERE l.id = NEW.lockout_id AND l.closed_at IS NOT NULL)",
        "This lockout is closed; begin a new one.",
    ),
    Guard(
        "elsewhere",
        "INSERT",
        "(NEW.point_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM maintenance_lockoutline n"
        " WHERE n.lockout_id = NEW.lockout_id AND n.point_id = NEW.point_id)) OR (NEW.box_id IS NOT NULL AND"
        " NOT EXISTS (SELECT 1 FROM maintenance_lockout l WHERE l.id = NEW.lockout_id AND l.box_id = NEW.box_id))",
        "A lock hangs on a point or on the box of its lockout.",
    ),
    Guard(
        "in_a_test_run",
        "INSERT",
        "EXISTS (SELECT 1 FROM maintenance_lockoutentry b WHERE b.kind = 'test run begun'"
        " AND (b.lockout_id = NEW.lockout_id OR b.lockout_id IN"
        " (SELECT n.lockout_id FROM maintenance_lockoutline n WHERE n.point_id = NEW.point_id))"
        " AND NOT EXISTS (SELECT 1 FROM maintenance_lockoutentry e"
        " WHERE e.lockout_id = b.lockout_id AND e.kind = 'test run ended' AND e.number > b.number))",
        "A test run is under way here; it ends before locks go on again.",
    ),
    Guard(
        "off_under_a_personal_lock",
        "UPDATE",
        "OLD.removed_at IS NULL AND NEW.removed_at IS NOT NULL AND NEW.key_in_box_number IS NOT NULL AND EXISTS"
        " (SELECT 1 FROM maintenance_application a WHERE a.lockout_id = NEW.lockout_id AND a.box_id IS NOT NULL"
        " AND a.removed_at IS NULL)",
        "A personal lock is on the box that holds this lock's key; this lock stays on.",
    ),
)


ENTRY_GUARDS = (
    # Locks of anyone: on a point that serves the position, or on one this lockout used.
    Guard(
        "available_with_a_lock_on",
        "INSERT",
        "NEW.kind = 'available' AND EXISTS (SELECT 1 FROM maintenance_application a WHERE a.removed_at IS NULL AND ("
        " a.point_id IN (SELECT s.point_id FROM maintenance_pointofposition s JOIN maintenance_lockout l"
        " ON l.position_id = s.position_id WHERE l.id = NEW.lockout_id AND s.to_at IS NULL)"
        " OR a.point_id IN (SELECT n.point_id FROM maintenance_lockoutline n WHERE n.lockout_id = NEW.lockout_id)"
        " OR a.lockout_id IN (SELECT o.id FROM maintenance_lockout o JOIN maintenance_lockout l"
        " ON l.position_id = o.position_id WHERE l.id = NEW.lockout_id)))",
        "A position is not available while a lock of anyone is on one of its points.",
    ),
    Guard(
        "available_before_closed",
        "INSERT",
        "NEW.kind = 'available' AND EXISTS"
        " (SELECT 1 FROM maintenance_lockout l WHERE l.id = NEW.lockout_id AND l.closed_at IS NULL)",
        "A position becomes available after its lockout is closed.",
    ),
    Guard(
        "available_before_anyone_is_told",
        "INSERT",
        "NEW.kind = 'available' AND NOT EXISTS (SELECT 1 FROM maintenance_lockoutentry t"
        " WHERE t.lockout_id = NEW.lockout_id AND t.kind = 'told after' AND t.number < NEW.number)",
        "People are told that the locks are off before a position becomes available.",
    ),
    Guard(
        "test_run_with_a_lock_on",
        "INSERT",
        "NEW.kind = 'test run begun' AND EXISTS (SELECT 1 FROM maintenance_application a WHERE a.removed_at IS NULL"
        " AND (a.lockout_id = NEW.lockout_id OR a.point_id IN"
        " (SELECT n.point_id FROM maintenance_lockoutline n WHERE n.lockout_id = NEW.lockout_id)))",
        "A test run begins when every lock of anyone is off its points and its box.",
    ),
)


# Rows of the app below, whose own models know nothing of locks; maintenance adds them when it starts.
PLANT_GUARDS = {
    "Position": Guard(
        "retired_with_a_lock_on",
        "UPDATE",
        "NEW.retired_at IS NOT NULL AND OLD.retired_at IS NULL AND EXISTS (SELECT 1 FROM maintenance_application a"
        " JOIN maintenance_lockout l ON l.id = a.lockout_id WHERE a.removed_at IS NULL AND (l.position_id = NEW.id"
        " OR a.point_id IN (SELECT s.point_id FROM maintenance_pointofposition s"
        " WHERE s.position_id = NEW.id AND s.to_at IS NULL)))",
        "A lock is on a point of this tag; it cannot be retired.",
    ),
    "Asset": Guard(
        "retired_with_a_lock_on",
        "UPDATE",
        "NEW.retired_at IS NOT NULL AND OLD.retired_at IS NULL AND EXISTS (SELECT 1 FROM maintenance_application a"
        " JOIN maintenance_lockout l ON l.id = a.lockout_id JOIN assets_fitting f ON f.asset_id = NEW.id"
        " AND f.to_at IS NULL WHERE a.removed_at IS NULL AND (l.position_id = f.position_id"
        " OR a.point_id IN (SELECT s.point_id FROM maintenance_pointofposition s"
        " WHERE s.position_id = f.position_id AND s.to_at IS NULL)))",
        "A lock is on where this asset is fitted; it cannot be retired.",
    ),
    "Person": Guard(
        "retired_with_a_lock_on",
        "UPDATE",
        "NOT NEW.is_active AND OLD.is_active AND EXISTS (SELECT 1 FROM maintenance_application a"
        " WHERE a.applied_by_id = NEW.id AND a.removed_at IS NULL)",
        "A lock of this person is on; nobody else can take it off, so the person stays.",
    ),
}
