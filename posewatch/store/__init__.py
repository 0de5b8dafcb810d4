"""What is kept: settings, the program's log, target files and recorded sessions."""
