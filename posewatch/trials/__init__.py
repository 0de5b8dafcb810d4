"""Comparing items in trials: plan, order and concealment. Pure: no file, clock or thread."""
