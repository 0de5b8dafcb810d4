"""What was recorded, given out in open formats: long tables and one description of them all."""
