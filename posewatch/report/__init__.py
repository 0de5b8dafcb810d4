"""Figures for people: what was held, and what counted."""
