"""posewatch: hold a rider's position still while contact-point gear is compared."""

__version__ = "0.1.0"
