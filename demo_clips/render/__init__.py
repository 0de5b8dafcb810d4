"""Makes the demo clips: an invented rider on an invented bike, with the truth of every frame.

The world is the bike frame, in metres: origin at the crank axis, x in the direction of travel,
y up, z to the rider's right.
"""
