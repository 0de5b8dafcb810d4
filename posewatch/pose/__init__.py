"""From pictures to landmarks: the model, its bundles, and recorded landmarks.

Importing the package is light; only ``posewatch.pose.landmarker`` loads the pose library.
"""
