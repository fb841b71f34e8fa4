"""Pages of the plant, its people and signing in."""
