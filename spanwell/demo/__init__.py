"""The demo plant: an invented water works whose past is written through the same actions that a real plant uses."""
