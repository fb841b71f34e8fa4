"""Pages that set the three apps side by side."""
