"""The pure part: everything that decides, as functions of state and input.

Nothing here reads a clock, a file, a device or a thread; time comes in as ``t_ns``, integer
nanoseconds on the session clock (0 = session start).
"""
