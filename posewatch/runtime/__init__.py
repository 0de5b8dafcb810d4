"""Threads, handovers and clocks: the shell that keeps the core fed."""
