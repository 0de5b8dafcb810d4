"""The pose model bundles that come with the program, and the script that made them."""
