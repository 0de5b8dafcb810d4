"""Measure the program on the shipped clips: how exact it is, and how fast."""
