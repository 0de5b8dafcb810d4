"""Where pictures come from: clips and cameras. The only package that uses OpenCV."""
