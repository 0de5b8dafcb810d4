"""A visit under way: its record and clock, going through it, and what comes before and after."""
