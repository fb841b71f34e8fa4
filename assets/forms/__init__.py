"""What people type about the plant and its people: the shape only; the rules are the actions'."""
