"""The whole: settings, address map, schedules, system checks, page shell. It imports the apps; no app imports it."""
