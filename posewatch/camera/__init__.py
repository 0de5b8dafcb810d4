"""Where pictures come from, clips and cameras, and where a video goes. Only this uses OpenCV."""
